//go:build race

package child

// Memory is the address space of a child, in bytes: what watches for races reserves far more than the program uses.
const Memory = 1 << 47
