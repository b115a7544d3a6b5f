package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tabletest"
)

// TestConflictsStandLaw runs merges and resolutions of random documents, in any
// order, into three files, two of which share a name. A command that is refused
// changes nothing; one that is not takes from the lists only what it settles: a
// merge what it conflicts on itself, a resolution what the list that it was
// given holds. Whatever a merge cannot decide is listed.
func TestConflictsStandLaw(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) { lawConflictsStand(r, t.TempDir(), tabletest.Rapid(r)) })
	for seed := range uint64(60) {
		lawConflictsStand(t, t.TempDir(), tabletest.Rand(seed))
	}
}

func FuzzConflictsStand(f *testing.F) {
	f.Fuzz(func(t *testing.T, seed uint64) { lawConflictsStand(t, t.TempDir(), tabletest.Rand(seed)) })
}

type fataler interface {
	Fatalf(format string, args ...any)
}

func lawConflictsStand(t fataler, dir string, s tabletest.Source) {
	base := tabletest.Document(s)
	at := func(name string) string { return filepath.Join(dir, name) }
	for name, doc := range map[string]*tables.Calibration{"base": base, "x": side(s, base), "y": side(s, base), "z": side(s, base)} {
		if err := tablefile.Write(at(name+".json"), doc, tablefile.Options{}); err != nil {
			t.Fatalf("%v", err)
		}
	}
	for range 2 + s.N(6) {
		out := at(tabletest.Pick(s, []string{"m.json", "m.csv", "n.json"}))
		args := []string{"merge", at("base.json"), at(tabletest.Pick(s, []string{"x.json", "y.json", "m.json"})), at(tabletest.Pick(s, []string{"y.json", "z.json"})), "-o", out}
		source := out
		switch s.N(4) {
		case 0:
			args = append(args, "--prefer", tabletest.Pick(s, []string{"ours", "theirs"}))
		case 1, 2:
			source = at(tabletest.Pick(s, []string{"m.json", "m.csv", "n.json", filepath.Base(out)}))
			args = []string{"resolve", source, "--take", tabletest.Pick(s, []string{"ours", "theirs"}), "-o", out}
			if tables := base.IDs(); len(tables) > 0 && s.N(2) == 0 {
				args = append(args, "--table", tabletest.Pick(s, tables))
			}
		}
		before, lists := files(dir), listsIn(dir)
		settles := lists[filepath.Base(source)]
		if args[0] == "merge" {
			if settles = nil; slices.Contains(args, "--prefer") {
				settles = conflictsOfMerge(t, args[1:4])
			}
		}
		var stdout, stderr bytes.Buffer
		status := run(args, strings.NewReader(""), &stdout, &stderr)
		told := fmt.Sprint(args, status, stdout.String(), stderr.String())
		if status == statusTrouble {
			if !maps.Equal(before, files(dir)) {
				t.Fatalf("%s: refused, and something changed", told)
			}
			continue
		}
		now := listsIn(dir)
		if args[0] == "merge" && (status == statusReport) != (len(now[filepath.Base(out)]) > 0) {
			t.Fatalf("%s: listed are %v", told, now)
		}
		for doc, list := range lists {
			gone := slices.DeleteFunc(slices.Clone(list), func(c string) bool { return slices.Contains(now[doc], c) })
			if len(gone) == 0 {
				continue
			}
			if doc != filepath.Base(out) || slices.ContainsFunc(gone, func(c string) bool { return !slices.Contains(settles, c) }) {
				t.Fatalf("%s: the conflicts of %s that are gone are not settled: %v", told, doc, gone) // promise: conflicts stand until they are settled
			}
		}
	}
}

// conflictsOfMerge is what a merge lists without --prefer, in a folder of its
// own.
func conflictsOfMerge(t fataler, docs []string) []string {
	dir, err := os.MkdirTemp("", "merge")
	if err != nil {
		t.Fatalf("%v", err)
	}
	defer os.RemoveAll(dir)
	var said bytes.Buffer
	run([]string{"merge", docs[0], docs[1], docs[2], "-o", filepath.Join(dir, "m.json")}, strings.NewReader(""), &said, &said)
	return listsIn(dir)["m.json"]
}

// side is a document with some of its cells, its name or a table changed.
func side(s tabletest.Source, doc *tables.Calibration) *tables.Calibration {
	c := doc.Contents()
	c.Tables = slices.Clone(c.Tables)
	if s.N(3) == 0 {
		c.Name = tabletest.Pick(s, []string{"van", "boat"})
	}
	for i, t := range c.Tables {
		values := slices.Clone(t.Values())
		for j := range values {
			if s.N(3) == 0 {
				values[j] = float64(1 + s.N(3))
			}
		}
		c.Tables[i] = tabletest.Must(t.WithValues(values))
	}
	if n := len(c.Tables); n > 1 && s.N(3) == 0 {
		i := s.N(n)
		c.Tables = slices.Delete(c.Tables, i, i+1)
	}
	return tabletest.Must(tables.NewCalibration(c))
}

// files is every file in a folder.
func files(dir string) map[string]string {
	all := map[string]string{}
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		text, _ := os.ReadFile(filepath.Join(dir, e.Name()))
		all[e.Name()] = string(text)
	}
	return all
}

// listsIn is the conflicts that are listed in a folder, by the document that
// they are of, read as any JSON is.
func listsIn(dir string) map[string][]string {
	lists := map[string][]string{}
	for name, text := range files(dir) {
		if !strings.HasSuffix(name, ".conflicts.json") {
			continue
		}
		var list []map[string]json.RawMessage
		if err := json.Unmarshal([]byte(text), &list); err != nil {
			lists["unreadable"] = append(lists["unreadable"], err.Error())
		}
		for _, c := range list {
			var doc string
			json.Unmarshal(c["merged"], &doc)
			lists[doc] = append(lists[doc], fmt.Sprintf("%s %s %s %s %s", c["table"], c["at"], c["base"], c["ours"], c["theirs"]))
		}
	}
	return lists
}
