package tablefile

import (
	"bufio"
	"cmp"
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"

	"github.com/natefinch/atomic"
)

// Replace replaces a file with what write gives, whole or not at all: the text
// goes to a new file in the same folder, is forced to the disk, and only then
// takes the old one's name. A process that is killed leaves the old file or the
// new one; a write that fails leaves the old one and nothing beside it.
//
// A file that exists keeps its mode; a symbolic link stays one, and what it
// points to is replaced. The path "-" is stdout. A device or a pipe, such as
// /dev/stdout or /dev/null, is written to and never renamed over.
func Replace(path string, stdout io.Writer, write func(io.Writer) error) error {
	return ReplaceAfter(path, stdout, write, nil)
}

// ReplaceAfter is [Replace] that runs first once the whole text is on the disk
// and before it takes the file's name; where first fails, nothing is replaced.
// So two files are replaced both or neither, one inside the other, on a disk
// that is full; a process that is killed in between has replaced first's alone.
func ReplaceAfter(path string, stdout io.Writer, write func(io.Writer) error, first func() error) error {
	if first == nil {
		first = func() error { return nil }
	}
	stream := func(w io.Writer) error {
		if err := first(); err != nil {
			return err
		}
		return flush(w, write)
	}
	if path == "-" {
		return stream(stdout)
	}
	if runtime.GOOS == "windows" {
		if err := windowsName(path); err != nil {
			return Plain(path, err)
		}
	}
	target, mode, device, err := lookAt(path)
	if err != nil {
		return Plain(path, err)
	}
	if device {
		if target == "/dev/stdout" {
			return stream(stdout)
		}
		f, err := os.OpenFile(target, os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			return Plain(path, err)
		}
		return Plain(path, errors.Join(stream(f), f.Close()))
	}
	return Plain(path, replace(target, mode, write, first))
}

// flush writes through a buffer: writers hand on small pieces.
func flush(w io.Writer, write func(io.Writer) error) error {
	b := bufio.NewWriterSize(w, 1<<16)
	if err := write(b); err != nil {
		return err
	}
	return b.Flush()
}

// lookAt finds what a path really names: the file behind its symbolic links,
// its mode (a new file's where there is none yet), and whether it is a device
// or a pipe.
func lookAt(path string) (target string, mode fs.FileMode, device bool, err error) {
	target = path
	for range 40 {
		info, err := os.Lstat(target)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return target, 0, false, nil
		case err != nil:
			return "", 0, false, err
		case info.Mode()&fs.ModeSymlink != 0:
			if abs, err := filepath.Abs(target); err == nil && (under(abs, "/dev/") || under(abs, "/proc/")) {
				return abs, 0, true, nil // an open file of some process: a link in name only
			}
			link, err := os.Readlink(target)
			if err != nil {
				return "", 0, false, err
			}
			if !filepath.IsAbs(link) {
				link = filepath.Join(filepath.Dir(target), link)
			}
			target = link
			continue
		case info.IsDir():
			return "", 0, false, errors.New("this is a folder, expected a file")
		}
		return target, info.Mode().Perm(), !info.Mode().IsRegular(), nil
	}
	return "", 0, false, errors.New("too many symbolic links")
}

// Device reports whether a path is no file of a folder but a standard stream, a
// device or a pipe: what is written there has no file beside it.
func Device(path string) bool {
	if path == "-" {
		return true
	}
	_, _, device, err := lookAt(path)
	return err == nil && device
}

// under reports whether a path is in a folder of the system's own.
func under(path, folder string) bool { return strings.HasPrefix(path, folder) }

// replace writes a temporary file beside target and gives it target's name.
func replace(target string, mode fs.FileMode, write func(io.Writer) error, first func() error) error {
	if mode != 0 {
		// A file that may not be written to is not replaced either.
		f, err := os.OpenFile(target, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		f.Close()
	}
	f, err := unfinished.create(filepath.Dir(target), mode)
	if err != nil {
		return err
	}
	defer unfinished.remove(f)
	for _, step := range []func() error{
		func() error { return flush(f, write) },
		func() error { return keepMode(f, mode) },
		f.Sync, f.Close, first,
		func() error { return unfinished.rename(f, target) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	syncFolder(filepath.Dir(target))
	return nil
}

// keepMode gives a file the mode of the one that it replaces; a new one has what the
// person's settings leave.
func keepMode(f *os.File, mode fs.FileMode) error {
	if mode == 0 {
		return nil
	}
	if err := f.Chmod(mode); !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// unfinished are the temporary files of this process.
var unfinished temporaries

// temporaries are known by their open files. A signal may come while any of them
// is written, renamed or removed, so that each step holds the lock.
type temporaries struct {
	sync.Mutex
	files     map[*os.File]bool
	abandoned bool
}

var errAbandoned = errors.New("the program was told to stop")

// Abandon removes the temporary files of what is still being written, and lets
// nothing more be written: the last call of a process that was told to stop.
func Abandon() {
	unfinished.Lock()
	defer unfinished.Unlock()
	unfinished.abandoned = true
	for f := range unfinished.files {
		f.Close() // Windows removes no open file
		os.Remove(f.Name())
	}
}

// create makes a temporary file in the folder of the file that it will replace:
// a rename is whole only within one file system. From the first byte nobody may read
// it who may not read that file.
func (t *temporaries) create(dir string, mode fs.FileMode) (*os.File, error) {
	t.Lock()
	defer t.Unlock()
	if t.abandoned {
		return nil, errAbandoned
	}
	name := filepath.Join(dir, ".calsplice-"+strconv.FormatUint(rand.Uint64(), 36)+".tmp")
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, cmp.Or(mode, 0o666))
	if err == nil {
		if t.files == nil {
			t.files = map[*os.File]bool{}
		}
		t.files[f] = true
	}
	return f, err
}

// rename gives a temporary file that is whole and closed its name.
func (t *temporaries) rename(f *os.File, target string) error {
	t.Lock()
	defer t.Unlock()
	if t.abandoned {
		return errAbandoned
	}
	err := atomic.ReplaceFile(f.Name(), target)
	if err == nil {
		delete(t.files, f)
	}
	return err
}

// remove removes a temporary file that did not get its name.
func (t *temporaries) remove(f *os.File) {
	t.Lock()
	defer t.Unlock()
	if t.files[f] {
		f.Close()
		os.Remove(f.Name())
		delete(t.files, f)
	}
}

// syncFolder forces the new name to the disk where the system can; where it
// can't, the file is whole all the same.
func syncFolder(dir string) {
	if f, err := os.Open(dir); err == nil {
		f.Sync()
		f.Close()
	}
}
