package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"syscall"
)

// stdoutWriter is standard output. Print calls ignore write errors, so it keeps
// the first one, and the command then fails.
type stdoutWriter struct {
	w      io.Writer
	failed error
}

func (r *stdoutWriter) Unwrap() io.Writer { return r.w }

func (r *stdoutWriter) Write(b []byte) (int, error) {
	if r.failed != nil {
		return 0, r.failed
	}
	n, err := r.w.Write(b)
	if err == nil || isClosedPipe(err) {
		return n, err
	}
	var at *fs.PathError
	if errors.As(err, &at) {
		err = at.Err
	}
	r.failed = fmt.Errorf("standard output: %w", err)
	return n, r.failed
}

// ended is what a command ends with that returned err.
func (r *stdoutWriter) ended(err error) error {
	switch {
	case r.failed == nil:
		return err
	case err == nil, errors.Is(err, errReport), errors.Is(err, r.failed):
		return r.failed
	}
	return errors.Join(err, r.failed)
}

// isClosedPipe reports whether a pipe was closed by its reader, who has seen
// enough.
func isClosedPipe(err error) bool {
	const brokenPipe, noData = syscall.Errno(109), syscall.Errno(232) // as Windows says it
	var no syscall.Errno
	return errors.Is(err, syscall.EPIPE) ||
		runtime.GOOS == "windows" && errors.As(err, &no) && (no == brokenPipe || no == noData)
}
