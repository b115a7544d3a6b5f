package main

import (
	"bytes"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// full is an output that takes so many bytes and then fails.
type full struct {
	left int
	err  error
}

func (f *full) Write(b []byte) (int, error) {
	if len(b) > f.left {
		return 0, &fs.PathError{Op: "write", Path: "/dev/stdout", Err: f.err}
	}
	f.left -= len(b)
	return len(b), nil
}

// TestLostOutputIsTrouble: whatever a command prints, status 2 and one line say
// that it could not be printed; at once or in the middle.
func TestLostOutputIsTrouble(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, said := ran("demo -o ."); status != statusClean {
		t.Fatal(said)
	}
	for _, line := range []string{
		"--help", "show --help", "version", "completion bash", "schema", "check van-found.json", "show van-found.json", "show van-found.json -o -",
		"give van-found.json --table spark.advance", "diff van-delivered.json van-found.json", "diff trims-1.json trims-2.json",
		"channels drive-1.csv", "cells drive-1.csv --value trim --axes van-found.json:spark.advance", "events drive-1.csv --channel coolant --above 80",
		"explain van-fitted.json drive-1.csv", "propose fuel van-fitted.json drive-1.csv", "transfer tender.json van-found.json --partial -o injectors.json",
		"rescale van-found.json --table spark.advance --x 800,1600 -o rescaled.json", "git textconv van-found.json",
	} {
		for _, left := range []int{0, 10} {
			var stderr bytes.Buffer
			status := run(words(line), strings.NewReader(""), &full{left, syscall.ENOSPC}, &stderr)
			if want := "calsplice: standard output: no space left on device\n"; status != statusTrouble ||
				strings.Count(stderr.String(), "standard output") != 1 || !strings.HasSuffix(stderr.String(), want) {
				t.Errorf("%s, after %d bytes: status %d, standard error ends %q", line, left, status, stderr.String()[max(0, stderr.Len()-200):])
			}
		}
		var stderr bytes.Buffer
		run(words(line), strings.NewReader(""), &full{10, syscall.EPIPE}, &stderr)
		if strings.Contains(stderr.String(), "standard output") {
			t.Errorf("%s into a closed pipe says %q", line, stderr.String())
		}
	}
	var stderr bytes.Buffer
	if run([]string{"demo", "-o", filepath.Join(t.TempDir(), "demo")}, nil, &full{10, syscall.ENOSPC}, &stderr) != statusTrouble {
		t.Errorf("the demo ends well without its output: %s", stderr.String())
	}
}

// TestFullDevice is the same in a process of its own, and a closed pipe there.
func TestFullDevice(t *testing.T) {
	device, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip("there is no /dev/full here")
	}
	defer device.Close()
	cmd := program("version")
	var stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = device, &stderr
	cmd.Run()
	if code := cmd.ProcessState.ExitCode(); code != statusTrouble || stderr.String() != "calsplice: standard output: no space left on device\n" {
		t.Errorf("status %d, %q", code, stderr.String())
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	r.Close()
	defer w.Close()
	cmd = program("--help")
	stderr.Reset()
	cmd.Stdout, cmd.Stderr = w, &stderr
	if cmd.Run(); stderr.Len() > 0 {
		t.Errorf("a closed pipe says %q", stderr.String())
	}
}
