package merge

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// TestMergeFileAgrees has an outside judge: the same three documents with a
// cell on each line, merged by git merge-file as text, give the same cells and
// the same conflicts. Five lines that nobody changes stand between cells, since
// a merge of text takes edits of neighbouring lines for a conflict; many
// triples stand in one file, since a process for each would take minutes.
func TestMergeFileAgrees(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal("git is not installed")
		}
		t.Skip("git is not installed")
	}
	for batch := range uint64(4) {
		var want []string
		var o, a, b bytes.Buffer
		for i := range uint64(750) {
			s := tabletest.Rand(1_000_000 + batch*750 + i)
			do := genDoc(s)
			da, db := cellEdits(s, do), cellEdits(s, do)
			name := fmt.Sprint(i)
			spellLines(&o, name, do)
			spellLines(&a, name, da)
			spellLines(&b, name, db)
			want = append(want, mergedLines(t, name, do, da, db)...)
		}
		got := mergeFile(t, o.Bytes(), a.Bytes(), b.Bytes())
		if len(got) != len(want) {
			t.Fatalf("git has %d cells, we %d", len(got), len(want))
		}
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("git has %q, we %q", got[i], want[i])
			}
		}
	}
}

// cellEdits changes cells only, some of them alike in both descendants.
func cellEdits(s tabletest.Source, doc *tables.Calibration) *tables.Calibration {
	c := doc.Contents()
	c.Tables = slices.Clone(c.Tables)
	for i, t := range c.Tables {
		values := slices.Clone(t.Values())
		for k := range values {
			switch s.N(6) {
			case 0:
				values[k] = tabletest.Pick(s, tabletest.Near)
			case 1:
				values[k] = 99 // alike on both sides now and then
			}
		}
		c.Tables[i] = tabletest.Must(t.WithValues(values))
	}
	return tabletest.Must(tables.NewCalibration(c))
}

func cellName(doc string, t *tables.Table, i int) string {
	return fmt.Sprintf("%s %s %s", doc, t.ID(), t.Place(i))
}

func spellLines(w *bytes.Buffer, doc string, c *tables.Calibration) {
	for _, t := range c.Tables() {
		for i, v := range t.Values() {
			fmt.Fprintf(w, "%s = %s\n", cellName(doc, t, i), cellText(v))
			for k := range 5 {
				fmt.Fprintf(w, "# %d after %s\n", k, cellName(doc, t, i))
			}
		}
	}
}

// mergedLines is our merge with a cell on each line, conflicts as "ours | base |
// theirs".
func mergedLines(t *testing.T, doc string, o, a, b *tables.Calibration) []string {
	r, err := Merge(o, a, b, MergeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	conflicts := map[string]Conflict{}
	for _, c := range r.Conflicts {
		if !c.Cell() {
			t.Fatalf("conflict about %s, where only cells changed", c.Name)
		}
		conflicts[c.Table+" "+place(c.Row, c.Column)] = c
	}
	var lines []string
	for _, m := range r.Merged.Tables() {
		for i, v := range m.Values() {
			name := cellName(doc, m, i)
			line := name + " = " + cellText(v)
			if c, ok := conflicts[m.ID()+" "+m.Place(i)]; ok {
				line = fmt.Sprintf("%s = %s|%s = %s|%s = %s", name, cellText(c.Ours.Value), name, cellText(c.Base.Value), name, cellText(c.Theirs.Value))
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// mergeFile merges three texts with git and lists the cells in the same way.
func mergeFile(t *testing.T, o, a, b []byte) []string {
	dir := t.TempDir()
	var files []string
	for i, text := range [][]byte{a, o, b} {
		files = append(files, filepath.Join(dir, fmt.Sprint(i)))
		if err := os.WriteFile(files[i], text, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	out, err := exec.Command("git", append([]string{"merge-file", "-p", "--diff3"}, files...)...).Output()
	if _, ok := err.(*exec.ExitError); err != nil && !ok {
		t.Fatal(err)
	}
	var lines []string
	var conflict []string
	in := false
	for line := range strings.SplitSeq(strings.TrimSuffix(string(out), "\n"), "\n") {
		switch {
		case strings.HasPrefix(line, "<<<<<<< "):
			in, conflict = true, nil
		case strings.HasPrefix(line, ">>>>>>> "):
			in = false
			lines = append(lines, strings.Join(conflict, "|"))
		case strings.HasPrefix(line, "||||||| "), line == "=======", strings.HasPrefix(line, "# "):
		case in:
			conflict = append(conflict, line)
		default:
			lines = append(lines, line)
		}
	}
	return lines
}
