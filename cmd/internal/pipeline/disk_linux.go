package pipeline

import "golang.org/x/sys/unix"

// freeBytes returns how much an ordinary user may still write to the disk of a folder; false when that cannot be asked.
func freeBytes(dir string) (int64, bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * s.Bsize, true
}
