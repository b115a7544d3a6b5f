//go:build unix

package tablefile

import (
	"io/fs"
	"os"

	"golang.org/x/sys/unix"
)

// processUmask is read once, before any goroutine could see it change.
var processUmask = func() fs.FileMode {
	m := unix.Umask(0)
	unix.Umask(m)
	return fs.FileMode(m) & os.ModePerm
}()

// umask is what the person's settings take away from a new file's mode.
func umask() fs.FileMode { return processUmask }
