//go:build race

package verify

// childMemory is the address space of a child, in bytes: what watches for races reserves far more than the program uses.
const childMemory = 1 << 47
