//go:build !linux

package child

import "os/exec"

// Limit does nothing where the limits of Linux are not available.
func Limit(int64, int) error { return nil }

func dieWithParent(*exec.Cmd) {}
