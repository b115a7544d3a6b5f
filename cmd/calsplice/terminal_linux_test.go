package main

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/rivo/uniseg"
	"golang.org/x/sys/unix"
)

// terminal opens a terminal of so many columns: what a program writes to the
// second file can be read from the first.
func terminal(t *testing.T, columns uint16) (reads, writes *os.File) {
	t.Helper()
	reads, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip("there are no terminals here:", err)
	}
	t.Cleanup(func() { reads.Close() })
	n, err := unix.IoctlGetInt(int(reads.Fd()), unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(int(reads.Fd()), unix.TIOCSPTLCK, 0)
	}
	if err != nil {
		t.Skip("there are no terminals here:", err)
	}
	writes, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip("there are no terminals here:", err)
	}
	t.Cleanup(func() { writes.Close() })
	if err := unix.IoctlSetWinsize(int(writes.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: columns}); err != nil {
		t.Fatal(err)
	}
	return reads, writes
}

// shown is what a program shows on a terminal of so many columns; only of its
// standard error where errors is true.
func shown(t *testing.T, columns uint16, errors bool, args ...string) string {
	t.Helper()
	reads, writes := terminal(t, columns)
	cmd := program(args...)
	cmd.Env = append(cmd.Env, "NO_COLOR=1")
	var rest bytes.Buffer
	cmd.Stdout, cmd.Stderr = writes, &rest
	if errors {
		cmd.Stdout, cmd.Stderr = &rest, writes
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	done := make(chan bool)
	go func() {
		buf := make([]byte, 4096)
		for !strings.Contains(out.String(), "\x04") {
			n, err := reads.Read(buf)
			out.Write(buf[:n])
			if err != nil {
				break
			}
		}
		close(done)
	}()
	cmd.Wait()
	writes.WriteString("\x04") // the end, in what was written
	<-done
	said, _, _ := strings.Cut(out.String(), "\x04")
	return strings.ReplaceAll(said, "\r\n", "\n")
}

// TestTerminalIsNotOverrun: what is said to a person fits the window, and is a
// line a message where it is piped.
func TestTerminalIsNotOverrun(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, said := ran("demo -o ."); status != statusClean {
		t.Fatal(said)
	}
	found, err := os.ReadFile("van-found.json")
	if err != nil {
		t.Fatal(err)
	}
	slip := bytes.Replace(found, []byte(`"role": "injector.flow"`), []byte(`"role": "injector.offset"`), 1)
	if err := os.WriteFile("slip.json", slip, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		line   string
		errors bool
	}{
		{"propose fuel van-fitted.json drive-1.csv", true},
		{"propose fuel van-corrected.json drive-3.csv", true},
		{"cells drive-1.csv --value trim --axes van-fitted.json:spark.advance --steady -o trims.json", true},
		{"transfer tender.json van-found.json -o x.json", true},
		{"check slip.json", false},
	} {
		_, stdout, stderr := ran(c.line)
		piped := stdout
		if c.errors {
			piped = stderr
		}
		long := false
		for line := range strings.Lines(piped) {
			long = long || uniseg.StringWidth(strings.TrimSpace(line)) > 80
		}
		if !long {
			t.Errorf("%s: nothing is longer than the window, so this shows nothing: %s", c.line, piped)
		}
		said := shown(t, 80, c.errors, words(c.line)...)
		for line := range strings.Lines(said) {
			if w := uniseg.StringWidth(strings.TrimSpace(line)); w > 80 {
				t.Errorf("%s: %d columns on a terminal of 80: %s", c.line, w, line)
			}
		}
		if strings.Join(strings.Fields(said), " ") != strings.Join(strings.Fields(piped), " ") {
			t.Errorf("%s says\n%s\non a terminal, elsewhere\n%s", c.line, said, piped)
		}
	}
}
