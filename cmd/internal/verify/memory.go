//go:build !race

package verify

// childMemory is the address space of a child, in bytes.
const childMemory = 4 << 30
