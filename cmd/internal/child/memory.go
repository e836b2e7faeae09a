//go:build !race

package child

// Memory is the address space of a child, in bytes.
const Memory = 4 << 30
