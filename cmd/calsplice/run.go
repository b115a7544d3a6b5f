package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"calsplice/cmd/calsplice/text"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// errReport ends a command with status 1: it ran well and has something to
// report (a difference, a conflict, a finding), already printed.
var errReport = errors.New("something to report")

// Exit statuses, as POSIX diff has them; the last two are what a shell makes of
// Ctrl-C and of SIGTERM.
const (
	statusClean      = 0
	statusReport     = 1
	statusTrouble    = 2
	statusInterrupt  = 130
	statusTerminated = 143
)

// patience is how long an interrupted command may take to clear up.
var patience = 2 * time.Second

// run is the program: it takes the arguments after the program's name and the
// three standard streams, and returns the exit status.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	defer signal.Stop(signals)
	done := make(chan int, 1)
	go func() { done <- execute(ctx, args, stdin, stdout, stderr) }()
	var received os.Signal
	select {
	case status := <-done:
		return status
	case received = <-signals:
		cancel()
	}
	// What reads or computes stops at the context and clears up; what was nearly
	// done may end well. What takes longer is left behind, without its files.
	status := statusInterrupt
	select {
	case status = <-done:
	case <-time.After(patience):
		tablefile.Abandon()
		fmt.Fprintln(stderr, interrupted)
	}
	if status == statusInterrupt && received == syscall.SIGTERM {
		return statusTerminated
	}
	return status
}

const interrupted = programName + ": interrupted"

// execute runs one command until it is done or its context ends. It is the one
// place where errors become lines and statuses.
func execute(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	out := &stdoutWriter{w: stdout}
	stderr = text.Folded(stderr)
	if isVersion(args) {
		args = []string{"version"}
	}
	err := attempt(func() {
		setLimits(os.Getenv)
		check(out.ended((&input{ctx: ctx, stdin: stdin, stdout: out, stderr: stderr}).perform(args)))
	})
	switch {
	case err == nil:
		return statusClean
	case errors.Is(err, errReport):
		return statusReport
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, interrupted)
		return statusInterrupt
	}
	for _, line := range errorLines(err) {
		fmt.Fprintln(stderr, programName+":", tables.Clean(line))
	}
	return statusTrouble
}

// errorLines are a line for each fault, and for each of errors that were joined.
// No other error has several lines but in the names that it quotes.
func errorLines(err error) (lines []string) {
	var faults tables.Faults
	switch joined, ok := err.(interface{ Unwrap() []error }); {
	case ok:
		for _, e := range joined.Unwrap() {
			lines = append(lines, errorLines(e)...)
		}
		return lines
	case errors.As(err, &faults):
		return faults.Lines()
	}
	return []string{err.Error()}
}
