package main

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/text/unicode/rangetable"

	"calsplice/cmd/calsplice/manual"
)

// everyCommand runs each command on the demo's files, "OUT/" standing for the
// folder of outputs.
var everyCommand = []string{
	"check van-found.json van-fitted.json",
	"show van-found.json -o OUT/show.html",
	"set van-found.json engine.strokes=4 name=Fitted -o OUT/set.json",
	"set van-found.json injector.flow:resolution=0.002 --changes -o OUT/facts.json",
	"new OUT/form.xlsx --name Van",
	"show trims-1.json --color always",
	"convert van-found.json -o OUT/van.xlsx",
	"convert van-found.json -o OUT/van.csv",
	"convert trims-1.json -o OUT/long.csv --long",
	"give van-found.json --table spark.advance --tsv -o OUT/spark.tsv",
	"take spark.tsv --id spark.advance --unit deg --like van-found.json:spark.advance --into van-found.json -o OUT/taken.json",
	"new OUT/form.xlsx",
	"new OUT/form.csv --roles spark.advance",
	"set van-found.json engine.cylinders=4 injector.flow:resolution=0.0005 --changes -o OUT/facts.json",
	"report van-fitted.json van-corrected.json --before drive-1.csv --after drive-2.csv -o OUT/report.html",
	"channels drive-1.csv --save OUT/logger.json",
	"diff drive-1.csv drive-2.csv --axes van-fitted.json -o OUT/drives.html",
	"diff van-delivered.json van-found.json --json",
	"diff van-delivered.json van-found.json -o OUT/changes.json",
	"diff van-delivered.json van-found.json -o OUT/changes.xlsx",
	"diff van-delivered.json van-found.json -o OUT/changes.patch.json",
	"diff trims-1.json trims-2.json -o OUT/drives.html",
	"apply van-fitted.json flow.json -o OUT/applied.json",
	"apply van-fitted.json flow.json --check",
	"merge van-fitted.json van-corrected.json van-colleague.json -o OUT/merged.json",
	"merge van-delivered.json van-found.json van-hot.json -o OUT/torn.json",
	"resolve torn.json torn.conflicts.json --take theirs -o OUT/whole.json",
	"rescale van-found.json --table spark.advance --x 800,1600,3200 --method fit -o OUT/rescaled.json",
	"transfer tender.json van-found.json --partial -o OUT/transfer.html",
	"channels drive-1.csv --json",
	"cells drive-1.csv --value trim --axes van-fitted.json:spark.advance --steady -o OUT/cells.json",
	"cells drive-2.csv drive-1.csv --value trim,coolant --axes van-fitted.json:spark.advance -o OUT/both.csv",
	"cells --combine trims-1.json trims-2.json -o OUT/combined.json",
	"propose fuel van-fitted.json drive-1.csv -o OUT/flow.json",
	"propose fuel van-fitted.json drive-1.csv --by fit -o OUT/fit.html",
	"propose spark van-fitted.json drive-1.csv -o OUT/spark.json",
	"explain van-corrected.json drive-3.csv --json",
	"events drive-1.csv --channel coolant --above 80 --json",
	"trace drive-1.csv --channel engine_speed,trim -o OUT/trace.svg",
	"trace drive-1.csv --channel engine_speed,trim -o OUT/trace.png",
	"trace drive-1.csv --channel engine_speed,trim -o OUT/trace.html",
	"schema changes",
	"demo -o OUT/demo",
}

// TestInputsStayAndOutputsRepeat: no command changes a byte of an input, and
// each gives the same bytes when it runs again.
func TestInputsStayAndOutputsRepeat(t *testing.T) {
	inputs := t.TempDir()
	prepared := []string{
		"demo -o .",
		"give van-found.json --table spark.advance --tsv -o spark.tsv",
	}
	t.Chdir(inputs)
	for _, line := range prepared {
		if status, _, said := ran(line); status == statusTrouble {
			t.Fatalf("%s: %s", line, said)
		}
	}
	named, err := os.ReadFile("van-found.json")
	if err != nil {
		t.Fatal(err)
	}
	named = bytes.Replace(named, []byte("found"), []byte("hot"), 1)
	if err := os.WriteFile("van-hot.json", named, 0o600); err != nil {
		t.Fatal(err)
	}
	if status, _, said := ran("merge van-delivered.json van-found.json van-hot.json -o torn.json"); status != statusReport {
		t.Fatalf("two names do not conflict: %s", said)
	}
	before := contents(t, inputs)
	covered := map[string]bool{}
	for _, line := range everyCommand {
		covered[strings.Fields(line)[0]] = true
		if testing.Short() && (strings.Contains(line, "drive-") || strings.HasPrefix(line, "demo")) {
			continue
		}
		var first map[string]string
		var firstSaid string
		for range 2 {
			out := t.TempDir()
			status, stdout, stderr := ran(strings.ReplaceAll(line, "OUT", filepath.ToSlash(out)))
			if status == statusTrouble {
				t.Errorf("%s: %s", line, stderr)
				break
			}
			said := strings.ReplaceAll(fmt.Sprint(status, stdout, stderr), filepath.ToSlash(out), "OUT")
			got := contents(t, out)
			switch {
			case strings.Contains(line, "OUT") && len(got) == 0:
				t.Errorf("%s wrote nothing: %s", line, said)
			case first == nil:
				first, firstSaid = got, said
			case !maps.Equal(first, got) || firstSaid != said:
				t.Errorf("%s gives other bytes the second time", line) // promise: the same bytes each time
			}
		}
		if now := contents(t, inputs); !maps.Equal(before, now) {
			t.Fatalf("%s changed its inputs, or left something beside them: %v", line, slices.Sorted(maps.Keys(now))) // promise: never changes an input
		}
	}
	for _, cmd := range manual.Below(sections(), "") {
		if aside := " git completion version help "; !covered[cmd.Name] && !strings.Contains(aside, " "+cmd.Name+" ") {
			t.Errorf("%s is not tried", cmd.Name)
		}
	}
}

// ran is a command line's status, standard output and standard error.
func ran(line string) (int, string, string) {
	var stdout, stderr bytes.Buffer
	status := run(words(line), strings.NewReader(""), &stdout, &stderr)
	return status, stdout.String(), stderr.String()
}

// contents is every file under a folder.
func contents(t *testing.T, folder string) map[string]string {
	files := map[string]string{}
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(folder, path)
		files[name] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// TestHostileNamesReachNoTerminal: nothing that a document or a log calls
// itself moves the cursor, rings a bell, turns the direction of writing or
// begins a line of its own.
func TestHostileNamesReachNoTerminal(t *testing.T) {
	t.Chdir(t.TempDir())
	const evil = `a\u001b]0;owned\u0007\u001b[2J\u009b31m\u202eb\u2066c\u200bd\u0008\u007f\rcalsplice: all is well\u2028e`
	doc := func(value string) string {
		return `{"format": "calsplice/1", "name": "` + evil + `", "notes": "` + evil + `", "x-` + "k" + `": "` + evil + `",
"tables": [{"id": "a", "title": "` + evil + `", "unit": "` + evil + `", "notes": "` + evil + `",
"x": {"quantity": "` + evil + `", "unit": "` + evil + `", "points": [1, 2]}, "values": [` + value + `, 4]}]}`
	}
	raw := "a\x1b]0;owned\x07\x1b[2J\u009b31m\u202eb\u2066c\x08\x7f\u2028e"
	files := map[string]string{
		"old.json": doc("3"), "new.json": doc("5"), "theirs.json": doc("6"), "bad.json": doc(`"` + evil + `"`),
		"key.json": `{"format": "calsplice/1", "` + evil + `": 1, "tables": []}`,
		"log.csv":  "time,RPM," + raw + "," + raw + " (" + raw + ")\n0,800,1," + raw + "\n1,801,2," + raw + "\n2,802,3,4\n",
		"bad.csv":  "calsplice,1,calibration\n" + raw + "," + raw + "\n",
		"bad.tsv":  raw + "\t1\t" + raw + "\n2\t" + raw + "\t4\n",
	}
	for name, text := range files {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, line := range []string{
		"show old.json --color always", "check old.json", "diff old.json new.json --color always", "diff old.json new.json --stat",
		"diff old.json new.json --json", "diff old.json new.json -o changes.json", "apply theirs.json changes.json -o never.json",
		"merge old.json new.json theirs.json -o merged.json", "resolve merged.json merged.conflicts.json --take theirs -o whole.json",
		"rescale old.json --table a --x 1,1.5,2 -o rescaled.json", "give old.json --table a", "git textconv old.json",
		"convert bad.json -o never.json", "convert key.json -o never.json", "convert bad.csv -o never.json",
		"take bad.tsv --id a --unit V --x 'q [V]' --y 'r [V]' -o never.json", "channels log.csv", "channels log.csv --json",
		"cells log.csv --value '" + raw + "' --x 'engine_speed: 800,801'", "cells log.csv --channel 'a=" + raw + "' --value a --x 'engine_speed: 800,801'",
		"events log.csv --channel '" + raw + "' --above 1", "trace log.csv --channel '" + raw + "' -o never.svg",
		"explain old.json log.csv", "propose fuel old.json log.csv -o never.json", "transfer old.json new.json -o never.json",
	} {
		_, stdout, stderr := ran(line)
		if stdout+stderr == "" && !strings.Contains(line, " -o ") {
			t.Errorf("%q says nothing", line)
		}
		for r := range strings.SplitSeq(colours.ReplaceAllString(stdout+stderr, ""), "") {
			if c := []rune(r)[0]; c != '\n' && c != '\t' && unicode.Is(moving, c) {
				t.Errorf("%q prints %U in %q", line, c, stdout+stderr) // promise: hostile names are only text
				break
			}
		}
		if strings.Contains(stdout+stderr, "\ncalsplice: all is well") {
			t.Errorf("%q lets a name begin a line", line)
		}
	}
}

// colours are the only escape sequences that the program prints.
var colours = regexp.MustCompile("\x1b\\[[0-9;]*m")

// moving are the characters that a terminal acts upon.
var moving = rangetable.Merge(unicode.Cc, unicode.Bidi_Control, unicode.Zl, unicode.Zp)

// TestHostileNamesInPagesAndPictures: a log's own name, its headers and what a
// document says of itself are text in whatever page or picture shows them. The
// only script of a page is the program's own.
func TestHostileNamesInPagesAndPictures(t *testing.T) {
	t.Chdir(t.TempDir())
	const evil = `<script>alert(1)</script><img src=x onerror=alert(1)>&amp;]]>`
	log := `<img src=x onerror=alert(1)>.csv`
	if runtime.GOOS == "windows" {
		log = "log.csv" // no file can be called that there
	}
	quoted := strings.ReplaceAll(evil, `"`, `\"`)
	doc := `{"format": "calsplice/1", "name": "` + quoted + `", "notes": "` + quoted + `", "tables": [
{"id": "a", "title": "` + quoted + `", "unit": "` + quoted + `", "notes": "` + quoted + `", "x": {"quantity": "` + quoted + `", "unit": "` + quoted + `", "points": [1, 2]}, "values": [VALUE, 4]}]}`
	files := map[string]string{
		log: "time,RPM," + evil + ",STFT\n0,800,1,0\n1,801,2,1\n2,802,3,1\n3,802,9,1\n", "old.json": strings.Replace(doc, "VALUE", "3", 1),
		"new.json": strings.Replace(doc, "VALUE", "5", 1),
	}
	for name, text := range files {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, line := range []string{
		"trace 'LOG' --channel engine_speed,odd --channel 'odd=" + evil + "' -o OUT.svg",
		"trace 'LOG' --channel engine_speed,short_trim_1 -o OUT.html",
		"events 'LOG' --channel engine_speed --above 801 -o OUT.html",
		"cells 'LOG' --value engine_speed --x 'engine_speed: 800,801' -o OUT.html",
		"show old.json -o OUT.html", "diff old.json new.json -o OUT.html",
	} {
		line = strings.ReplaceAll(line, "LOG", log)
		out := "out.svg"
		if strings.Contains(line, "OUT.html") {
			out = "out.html"
		}
		status, _, stderr := ran(strings.ReplaceAll(line, "OUT", "out"))
		page, err := os.ReadFile(out)
		if status == statusTrouble || err != nil {
			t.Errorf("%s: status %d, %s %v", line, status, stderr, err)
			continue
		}
		os.Remove(out)
		text := strings.ToLower(string(page))
		if strings.Contains(text, "<script>alert") || strings.Contains(text, "<img src=x") || strings.Count(text, "<script") > 1 {
			t.Errorf("%s lets a name become markup", line) // promise: hostile names are only text
		}
		if out == "out.svg" && (strings.Contains(text, "<script") || xml.Unmarshal(page, new(struct{})) != nil) {
			t.Errorf("%s: the picture is not plain XML", line)
		}
	}
}
