package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// program is this test's binary as the program itself, in a process of its own.
func program(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), "CALSPLICE_BE_THE_PROGRAM=1")
	return cmd
}

// large writes a document that takes a while to write, of so many maps.
func large(t *testing.T, path, name string, maps int) []byte {
	t.Helper()
	points := make([]float64, 60)
	for i := range points {
		points[i] = float64(i)
	}
	axis, err := tables.NewAxis("q", "", points)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	var list []*tables.Table
	for i := range maps {
		values := make([]float64, 3600)
		for j := range values {
			values[j] = random.Float64()
		}
		table, err := tables.NewTable(tables.Fields{ID: fmt.Sprintf("t%d", i), X: axis, Y: axis, Values: values})
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, table)
	}
	doc, err := tables.NewCalibration(tables.Contents{Name: name, Tables: list})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := tablejson.Write(&b, doc); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestKilledWritesAreNeverTorn kills the program at random moments of a
// conversion: the output is the old document or the new one, whole.
func TestKilledWritesAreNeverTorn(t *testing.T) {
	kills := 40
	if os.Getenv("CALSPLICE_OUTSIDE") == "1" && !testing.Short() {
		kills = 200
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.json"), filepath.Join(dir, "out.json")
	fresh := large(t, in, "new", 30)
	old := large(t, out, "old", 2)
	start := time.Now()
	if msg, err := program("show", in, "-o", filepath.Join(dir, "probe.json")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	whole := time.Since(start)
	random := rand.New(rand.NewPCG(3, 4))
	var killed, kept, replaced int
	for range kills {
		if err := os.WriteFile(out, old, 0o644); err != nil {
			t.Fatal(err)
		}
		cmd := program("show", in, "-o", out)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(random.Float64() * 1.2 * float64(whole)))
		cmd.Process.Kill()
		// How long a run takes drifts with the machine's load: aim anew, so that
		// most kills fall within one.
		if cmd.Wait() != nil {
			killed++
			whole += whole / 10
		} else {
			whole -= whole / 5
		}
		got, err := os.ReadFile(out)
		switch {
		case err == nil && bytes.Equal(got, old):
			kept++
		case err == nil && bytes.Equal(got, fresh):
			replaced++
		default:
			t.Fatalf("the output is torn: %d bytes, %v", len(got), err) // promise: never torn
		}
	}
	t.Logf("%d of %d killed in time; %d kept the old document, %d have the new one", killed, kills, kept, replaced)
	if killed < kills/4 || kept == 0 {
		t.Errorf("only %d of %d were killed in time: the test shows nothing", killed, kills)
	}
}

// small mounts a file system of a few hundred kilobytes.
func small(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("mounting a small file system wants Linux and root")
	}
	if msg, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("mounting is not possible here: %s", msg)
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	return dir
}

// fails runs the program and expects status 2 and one line.
func fails(t *testing.T, want string, args ...string) {
	t.Helper()
	cmd := program(args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	cmd.Run()
	if line := stderr.String(); cmd.ProcessState.ExitCode() != statusTrouble || strings.Count(line, "\n") != 1 || !strings.Contains(line, want) {
		t.Errorf("%s: status %d, %q; want 2 and one line with %q", strings.Join(args, " "), cmd.ProcessState.ExitCode(), line, want)
	}
}

// TestFullDisk: the old output stays, and nothing lies beside it.
func TestFullDisk(t *testing.T) {
	in := filepath.Join(t.TempDir(), "in.json")
	large(t, in, "new", 30)
	disk := small(t, "size=256k")
	out := filepath.Join(disk, "out.json")
	if err := os.WriteFile(out, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	fails(t, "the disk is full", "show", in, "-o", out)
	holdsOnly(t, disk, "out.json", "old") // promise: never torn
}

// TestReadOnlyFolder: a clear line, and nothing changed.
func TestReadOnlyFolder(t *testing.T) {
	in := filepath.Join(t.TempDir(), "in.json")
	large(t, in, "new", 1)
	disk := small(t, "size=1m")
	if err := os.WriteFile(filepath.Join(disk, "out.json"), []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
		t.Skipf("remounting is not possible here: %s", msg)
	}
	fails(t, "read-only file system", "show", in, "-o", filepath.Join(disk, "out.json"))
	fails(t, "read-only file system", "show", in, "-o", filepath.Join(disk, "other.json"))
	holdsOnly(t, disk, "out.json", "old") // promise: never torn
}

func holdsOnly(t *testing.T, dir, name, content string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 || entries[0].Name() != name {
		t.Errorf("the folder holds %v, want %s alone (%v)", entries, name, err)
	}
	if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != content {
		t.Errorf("%s holds %q, want %q (%v)", name, got, content, err)
	}
}

// TestOutputIsInput: a document may be written over itself; a link stays a
// link, and the file keeps its mode.
func TestOutputIsInput(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "van.json")
	want := large(t, path, "van", 1)
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.json")
	if err := os.Symlink("van.json", link); err != nil {
		t.Skip(err)
	}
	if msg, err := program("show", link, "-o", link).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, msg)
	}
	if to, err := os.Readlink(link); err != nil || to != "van.json" {
		t.Errorf("the link points to %q, %v", to, err)
	}
	info, err := os.Stat(path)
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o640 {
		t.Errorf("the file's mode is %v, want 0640 (%v)", info.Mode(), err)
	}
	if got, _ := os.ReadFile(path); !bytes.Equal(got, want) {
		t.Error("the document changed") // promise: never changes an input
	}
}

// TestEveryInputIsKept: no output may be written over a file that a flag names, whichever
// flag that is; what a flag takes as text may be called like the output.
func TestEveryInputIsKept(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a.json")
	if err := os.WriteFile(file, []byte("{}"), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		command, flag, value string
		kept                 bool
	}{
		{"transfer", "log", file, true}, {"resolve", "decisions", file, true}, {"take", "like", file + ":spark", true}, {"rescale", "visited", file, true},
		{"rescale", "like", file, true}, {"diff", "axes", file + ":spark", true}, {"report", "before", file, true}, {"report", "after", file, true},
		{"cells", "channel-map", file, true}, {"explain", "log-profile", file, true},
		{"take", "title", file, false}, {"take", "into", file, false}, {"new", "name", file, false}, {"report", "note", file, false},
	} {
		in := &input{command: manual.Of(c.command), values: map[string][]string{c.flag: {c.value}, "o": {file}}}
		err := attempt(in.keepInputs)
		if kept := err != nil && strings.Contains(err.Error(), "is an input"); kept != c.kept {
			t.Errorf("%s --%s %s -o %s: %v", c.command, c.flag, c.value, file, err)
		}
	}
}

// TestOutputIsStdin: a log that is read by redirection is not written over.
func TestOutputIsStdin(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.csv")
	log := []byte("Time (s),Engine speed (rpm)\n0,800\n1,900\n2,1000\n")
	if err := os.WriteFile(path, log, 0o666); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cmd := program("cells", "-", "--value", "engine_speed", "-x", "engine_speed: 800,900", "-o", path)
	cmd.Stdin = f
	msg, err := cmd.CombinedOutput()
	if got, _ := os.ReadFile(path); err == nil || !strings.Contains(string(msg), "-: is an input") || !bytes.Equal(got, log) {
		t.Errorf("%v: %s, and the log is %q", err, msg, got)
	}
}

// TestInterrupt: Ctrl-C ends a command that waits for input, with status 130,
// and SIGTERM with 143.
func TestInterrupt(t *testing.T) {
	for signal, want := range stops(t) {
		dir := t.TempDir()
		cmd := program("show", "-", "-o", filepath.Join(dir, "out.json"))
		cmd.Env = append(cmd.Env, "CALSPLICE_HAVE_NO_PATIENCE=1")
		stdin, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// More than a pipe holds: once it is written, the program is reading.
		if _, err := stdin.Write(bytes.Repeat([]byte(" "), 1<<20)); err != nil {
			t.Fatal(err)
		}
		cmd.Process.Signal(signal)
		cmd.Wait()
		if code := cmd.ProcessState.ExitCode(); code != want || stderr.String() != "calsplice: interrupted\n" {
			t.Errorf("%v: status %d, %q; want %d and one line", signal, code, stderr.String(), want)
		}
		if entries, _ := os.ReadDir(dir); len(entries) > 0 {
			t.Errorf("%v left behind: %v", signal, entries) // promise: ctrl-c leaves nothing behind
		}
	}
}

// stops are the signals that tell a program to stop, with the status that a
// shell expects of each.
func stops(t *testing.T) map[os.Signal]int {
	if runtime.GOOS == "windows" {
		t.Skip("a test can't send signals there")
	}
	return map[os.Signal]int{os.Interrupt: statusInterrupt, syscall.SIGTERM: statusTerminated}
}

// TestInterruptedWrite: a command that is told to stop while it writes leaves
// no temporary file, and its output as it was or whole.
func TestInterruptedWrite(t *testing.T) {
	in := filepath.Join(t.TempDir(), "in.json")
	large(t, in, "new", 60)
	for signal, want := range stops(t) {
		for _, name := range []string{"out.xlsx", "out.html", "out.json", "out.csv"} {
			dir, temp := t.TempDir(), t.TempDir()
			cmd := program("show", in, "-o", filepath.Join(dir, name))
			cmd.Env = append(cmd.Env, "CALSPLICE_HAVE_NO_PATIENCE=1", "TMPDIR="+temp)
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			ended := make(chan struct{})
			go func() { cmd.Wait(); close(ended) }()
			begun(dir, ended)
			cmd.Process.Signal(signal)
			<-ended
			entries, _ := os.ReadDir(dir)
			switch code := cmd.ProcessState.ExitCode(); {
			case code == want && len(entries) == 0:
			case (code == want || code == statusClean) && len(entries) == 1 && entries[0].Name() == name:
				t.Logf("%s was in its place before %v came", name, signal)
				whole := filepath.Join(t.TempDir(), name)
				if err := program("show", in, "-o", whole).Run(); err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(read(t, whole), read(t, filepath.Join(dir, name))) {
					t.Errorf("%v while %s is written left part of it", signal, name)
				}
			default:
				t.Errorf("%v while %s is written: status %d, and the folder holds %v; want %d and nothing", signal, name, code, entries, want)
			}
			if entries, _ := os.ReadDir(temp); len(entries) > 0 {
				t.Errorf("%v while %s is written left behind: %v", signal, name, entries) // promise: ctrl-c leaves nothing behind
			}
		}
	}
}

// begun waits until something stands in a folder, or the process has ended.
func begun(dir string, ended chan struct{}) {
	for {
		select {
		case <-ended:
			return
		default:
			if entries, _ := os.ReadDir(dir); len(entries) > 0 {
				return
			}
			runtime.Gosched()
		}
	}
}

// TestInterruptedRead: Ctrl-C in the middle of a long log ends the command
// before its end, with nothing written, unpacked or left half made.
func TestInterruptedRead(t *testing.T) {
	stops(t)
	dir, temp := t.TempDir(), t.TempDir()
	cmd := program("cells", "-", "--value", "engine_speed", "--x", "engine_speed: 800,900", "-o", filepath.Join(dir, "out.json"))
	cmd.Env = append(cmd.Env, "TMPDIR="+temp)
	log, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	// The log goes on until nobody reads it, and is past what is kept in memory
	// when Ctrl-C comes.
	fmt.Fprint(log, "time,RPM\n")
	for i := 0; ; i++ {
		if i == 20_000 {
			cmd.Process.Signal(os.Interrupt)
		}
		if _, err := fmt.Fprint(log, strings.Repeat(fmt.Sprintf("%d,%d\n", i, 800+i%100), 100)); err != nil {
			break
		}
	}
	cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != statusInterrupt || !strings.HasSuffix(stderr.String(), "calsplice: interrupted\n") {
		t.Errorf("status %d, %q; want 130 and one line", code, stderr.String())
	}
	for _, d := range []string{dir, temp} {
		if entries, _ := os.ReadDir(d); len(entries) > 0 {
			t.Errorf("left behind: %v", entries) // promise: ctrl-c leaves nothing behind
		}
	}
}
