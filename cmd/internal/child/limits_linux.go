package child

import (
	"os/exec"
	"syscall"

	"golang.org/x/sys/unix"
)

// dieWithParent ends a child when this process ends, however it ends.
func dieWithParent(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} }

// Limit keeps this process, and only a child calls it, from more memory and time than it may take, and from writing any
// file.
func Limit(memory int64, seconds int) error {
	for _, l := range []struct {
		what int
		most uint64
	}{{unix.RLIMIT_AS, uint64(memory)}, {unix.RLIMIT_CPU, uint64(seconds)}, {unix.RLIMIT_CORE, 0},
		{unix.RLIMIT_FSIZE, 0}, {unix.RLIMIT_NOFILE, 64}} {
		var have unix.Rlimit
		if err := unix.Getrlimit(l.what, &have); err != nil {
			return err
		}
		most := min(l.most, have.Max)
		if err := unix.Setrlimit(l.what, &unix.Rlimit{Cur: most, Max: most}); err != nil {
			return err
		}
	}
	return nil
}
