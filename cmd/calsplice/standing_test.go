package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// disputed lays out a base and two sides of it that differ from it in every n-th
// cell, each in its own way.
func disputed(t *testing.T, dir string, maps, n int) (base, ours, theirs string) {
	t.Helper()
	base, ours, theirs = filepath.Join(dir, "base.json"), filepath.Join(dir, "ours.json"), filepath.Join(dir, "theirs.json")
	large(t, base, "base", maps)
	doc, err := tablefile.Read(base, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, path := range []string{ours, theirs} {
		c := doc.Contents()
		c.Tables = append([]*tables.Table(nil), c.Tables...)
		for k, table := range c.Tables {
			values := append([]float64(nil), table.Values()...)
			for j := 0; j < len(values); j += n {
				values[j] += float64(i + 1)
			}
			if c.Tables[k], err = table.WithValues(values); err != nil {
				t.Fatal(err)
			}
		}
		side, err := tables.NewCalibration(c)
		if err == nil {
			err = tablefile.Write(path, side, tablefile.Options{})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return base, ours, theirs
}

// TestListAndDocumentOnAFullDisk: where there is room for one of them only, the
// list or the document, neither is written; what stood there still stands.
func TestListAndDocumentOnAFullDisk(t *testing.T) {
	for _, c := range []struct {
		why           string
		maps, n, room int // cells in conflict, KiB
	}{
		{"room for the list only", 20, 3600, 400},
		{"room for the document only", 3, 3, 600},
	} {
		base, ours, theirs := disputed(t, t.TempDir(), c.maps, c.n)
		disk := small(t, fmt.Sprintf("size=%dk", c.room))
		out := filepath.Join(disk, "m.json")
		fails(t, "the disk is full", "merge", base, ours, theirs, "-o", out)
		if left := contents(t, disk); len(left) > 0 {
			t.Errorf("%s: the folder holds %d files", c.why, len(left))
		}
		if err := os.WriteFile(out, []byte("old"), 0o644); err != nil {
			t.Fatal(err)
		}
		fails(t, "the disk is full", "merge", base, ours, theirs, "-o", out)
		holdsOnly(t, disk, "m.json", "old") // promise: conflicts stand until they are settled
	}
}

// TestResolvedOnAFullDisk: the document and the list stay as they are.
func TestResolvedOnAFullDisk(t *testing.T) {
	base, ours, theirs := disputed(t, t.TempDir(), 3, 36)
	disk := small(t, "size=1m")
	out := filepath.Join(disk, "m.json")
	if status, _, said := ran("merge " + base + " " + ours + " " + theirs + " -o " + out); status != statusReport {
		t.Fatal(said)
	}
	before := contents(t, disk)
	full := filepath.Join(disk, "filler")
	f, err := os.Create(full)
	for err == nil {
		_, err = f.Write(make([]byte, 4096))
	}
	f.Close()
	fails(t, "the disk is full", "resolve", out, "--take", "theirs", "-o", out)
	fails(t, "the disk is full", "resolve", out, "--take", "theirs", "--table", "t1", "-o", out)
	os.Remove(full)
	if now := contents(t, disk); fmt.Sprint(now) != fmt.Sprint(before) {
		t.Error("the document or its list changed") // promise: conflicts stand until they are settled
	}
}

// TestKilledMergesKeepTheirConflicts kills merges and resolutions, at random and
// as soon as the first of their files has changed: no document is left with
// ours in the place of a conflict that nothing lists.
func TestKilledMergesKeepTheirConflicts(t *testing.T) {
	kills := 24
	if os.Getenv("CALSPLICE_OUTSIDE") == "1" && !testing.Short() {
		kills = 200
	}
	dir := t.TempDir()
	base, ours, theirs := disputed(t, dir, 4, 360)
	merged, list := filepath.Join(dir, "m.json"), filepath.Join(dir, "m.conflicts.json")
	args := []string{"merge", base, ours, theirs, "-o", merged}
	start := time.Now()
	program(args...).Run()
	whole := time.Since(start)
	mergedText, listText := read(t, merged), read(t, list)
	theirText := read(t, theirs)
	random := rand.New(rand.NewPCG(5, 6))
	seen := map[string]int{}
	for i := range kills {
		resolving := i%2 == 0
		put(t, merged, map[bool][]byte{true: mergedText, false: theirText}[resolving])
		if os.Remove(list); resolving {
			put(t, list, listText)
			args = []string{"resolve", merged, "--take", "theirs", "-o", merged}
		} else {
			args = []string{"merge", base, ours, theirs, "-o", merged}
		}
		killIn(t, args, time.Duration(random.Float64()*1.2*float64(whole)), i%4 < 2, merged, list)
		doc, err := tablefile.Read(merged, nil)
		if err != nil {
			t.Fatal(err)
		}
		state := "ours in place"
		if bytes.Equal(read(t, merged), theirText) {
			state = "theirs in place"
		}
		if l, err := conflictfile.Read(list, nil); err == nil && len(l.Conflicts) > 0 {
			state += ", listed"
			if _, _, _, err := merge.Resolve(doc, l.Conflicts, merge.Theirs, merge.Selection{}); err != nil {
				t.Errorf("%v: the list does not fit: %v", args, err)
			}
		}
		if seen[state]++; state == "ours in place" {
			t.Fatalf("%v: killed, it leaves conflicts that nothing lists", args) // promise: conflicts stand until they are settled
		}
	}
	t.Log(seen)
	if len(seen) < 2 {
		t.Errorf("only %v seen: the test shows nothing", seen)
	}
}

// killIn runs the program and kills it after a while, or as soon as one of the
// files changes.
func killIn(t *testing.T, args []string, after time.Duration, atChange bool, files ...string) {
	t.Helper()
	state := func() (s string) {
		for _, f := range files {
			info, err := os.Stat(f)
			if err == nil {
				s += fmt.Sprint(info.ModTime(), info.Size())
			}
			s += ";"
		}
		return s
	}
	before := state()
	cmd := program(args...)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() { cmd.Wait(); close(done) }()
	timer := time.After(after)
	for atChange && state() == before {
		select {
		case <-done:
			return
		default:
		}
	}
	if !atChange {
		select {
		case <-done:
		case <-timer:
		}
	}
	cmd.Process.Kill()
	<-done
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func put(t *testing.T, path string, text []byte) {
	t.Helper()
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
}
