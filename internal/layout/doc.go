// Package layout holds no code, only tests about the whole repository: who imports whom, what others made and NOTICE
// names, and that no file names a place of one machine. They read the files themselves, since the test cache does not
// notice what "go list" would say.
package layout
