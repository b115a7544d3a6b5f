package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"calsplice/cmd/calsplice/manual"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/merge/conflictfile"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// TestHelpExamples runs every example of every command's --help, on the demo's
// files under the names that the examples use: none may end in trouble. A
// command without an example is a fault.
func TestHelpExamples(t *testing.T) {
	dir := t.TempDir()
	exampleFiles(t, dir)
	for _, e := range examples() {
		t.Run(e.command, func(t *testing.T) {
			if len(e.lines) == 0 {
				t.Fatal("its help has no example")
			}
			for _, line := range e.lines {
				work := t.TempDir()
				if err := os.CopyFS(work, os.DirFS(dir)); err != nil {
					t.Fatal(err)
				}
				cmd := program(words(line)...)
				cmd.Dir = work
				grid, err := os.ReadFile(filepath.Join(dir, "offset.tsv"))
				if err != nil {
					t.Fatal(err)
				}
				cmd.Stdin = bytes.NewReader(grid)
				out, _ := cmd.CombinedOutput()
				if code := cmd.ProcessState.ExitCode(); code != statusClean && code != statusReport {
					t.Errorf("calsplice %s: status %d\n%s", line, code, out)
				}
			}
		})
	}
}

// TestClipboard runs what the help on the clipboard says, with a copied table in
// the clipboard's place.
func TestClipboard(t *testing.T) {
	dir := t.TempDir()
	exampleFiles(t, dir)
	tried := map[string]int{}
	for line := range strings.Lines(strings.ReplaceAll(manual.Of("clipboard").Text, "\\\n", "")) {
		_, rest, ok := strings.Cut(line, "calsplice ")
		if !ok {
			continue
		}
		rest, _, _ = strings.Cut(rest, " | ")
		cmd := program(words(strings.TrimSpace(rest))...)
		cmd.Dir = dir
		grid, err := os.ReadFile(filepath.Join(dir, "spark.tsv"))
		if err != nil {
			t.Fatal(err)
		}
		cmd.Stdin = bytes.NewReader(grid)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("calsplice %s: %v\n%s", rest, err, out)
		}
		tried[strings.Fields(rest)[0]]++
	}
	if tried["take"] != 5 || tried["give"] != 4 {
		t.Errorf("the help on the clipboard has %v, want 5 of take and 4 of give", tried)
	}
}

// TestOneDefault: no option's help names two defaults, nor a 0 where nothing is
// what stands for it.
func TestOneDefault(t *testing.T) {
	for _, s := range sections() {
		for _, d := range s.Flags() {
			if n := strings.Count(d.Usage, "default:") + strings.Count(d.Usage, "unless told") + len(d.Default[:min(1, len(d.Default))]); n > 1 {
				t.Errorf("%s %s: %s (default: %s)", s.Name, d.Typed(), d.Usage, d.Default)
			}
			if d.Default == "0" && s.Name != "events" && s.Name != "trace" {
				t.Errorf("%s %s: is 0 what stands? %s", s.Name, d.Typed(), d.Usage)
			}
		}
	}
}

// TestHelpFits: a command's help fits a window of 100 columns and a page of 60
// lines; a flag with a value says what to type, once.
func TestHelpFits(t *testing.T) {
	for _, s := range sections() {
		fits(t, append(strings.Fields(s.Name), "--help")...)
		for _, d := range s.Flags() {
			if d.Many && d.Value == "" || strings.Contains(d.Usage, "`") {
				t.Errorf("%s: what is to be typed for %s? %s", s.Name, d.Typed(), d.Usage)
			}
		}
	}
	fits(t, "--help")
	for _, topic := range topics() {
		fits(t, "help", topic.Name)
	}
}

func fits(t *testing.T, args ...string) {
	t.Helper()
	var out, errors bytes.Buffer
	if status := run(args, strings.NewReader(""), &out, &errors); status != statusClean || errors.Len() > 0 {
		t.Errorf("%s: status %d, %s", args, status, &errors)
	}
	lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
	if len(lines) > 60 {
		t.Errorf("%s: %d lines", args, len(lines))
	}
	for _, l := range lines {
		if utf8.RuneCountInString(l) > 100 {
			t.Errorf("%s: %d columns: %s", args, utf8.RuneCountInString(l), l)
		}
	}
}

// TestMistyped: a word that is nearly right is answered with the one that is,
// any other with what there is.
func TestMistyped(t *testing.T) {
	dir := t.TempDir()
	exampleFiles(t, dir)
	t.Chdir(dir)
	for _, c := range []struct{ line, want string }{
		{"dif a b", `there is no command "dif": did you mean diff?; calsplice --help lists them`},
		{"xyzzyx", `there is no command "xyzzyx"; calsplice --help lists them`},
		{"propose feul a b", `there is no command "feul": did you mean fuel?; calsplice propose --help lists them`},
		{"diff --tabel x a b", "calsplice diff has no flag --tabel: did you mean --table?"},
		{"diff --zzzzzz a b", "calsplice diff has no flag --zzzzzz: calsplice diff --help lists them"},
		{"help difff", `there is no command or topic "difff": did you mean diff?`},
		{"help logz", `there is no command or topic "logz": did you mean logs?`},
		{"give found.json --table injector.flwo", `there is no table "injector.flwo": did you mean injector.flow?`},
		{"rescale found.json --table spark.advnce --x 1,2 -o x.json", `there is no table "spark.advnce": did you mean spark.advance?`},
		{"rescale found.json --table spark.advance --x 1,2 --method smple -o x.json", `did you mean sample?`},
		{"show found.json --color alway", `did you mean always?`},
		{"cells drive.csv --axes found.json:spark.advance --value trim --weight spred", `did you mean spread?`},
		{"cells drive.csv --axes found.json:spark.advance --value trim --show maen", `did you mean mean?`},
		{"cells drive.csv --axes found.json:spark.advance --value trm", `did you mean trim`},
		{"cells drive.csv --axes found.json:spark.advnce --value trim", `did you mean spark.advance?`},
		{"schema calibratoin", `did you mean calibration?`},
		{"completion bsh", `did you mean bash?`},
	} {
		var out, said bytes.Buffer
		if status := run(strings.Fields(c.line), strings.NewReader(""), &out, &said); status != statusTrouble || !strings.Contains(said.String(), c.want) || strings.Count(said.String(), "\n") != 1 {
			t.Errorf("%s: status %d, %q; want one line with %q", c.line, status, said.String(), c.want)
		}
	}
}

type example struct {
	command string
	lines   []string // without the program's name
}

// examples takes the lines of descriptions that begin with the program's name;
// a backslash at an end goes on in the next line, and what a shell would do
// with the output is left out. What needs a repository is tried in git.txtar.
func examples() (found []example) {
	for _, s := range sections() {
		if manual.Below(sections(), s.Name) != nil || strings.HasPrefix(s.Name, "git ") {
			continue
		}
		e := example{command: s.Name}
		text := regexp.MustCompile(`\\\n\s*`).ReplaceAllString(s.Text, "")
		for line := range strings.Lines(text) {
			if rest, ok := strings.CutPrefix(strings.TrimSpace(line), "calsplice "); ok {
				rest, _, _ = strings.Cut(rest, " > ")
				rest, _, _ = strings.Cut(rest, " | ")
				e.lines = append(e.lines, rest)
			}
		}
		found = append(found, e)
	}
	return found
}

// exampleFiles lays out the demo's files under the names that examples use.
func exampleFiles(t *testing.T, dir string) {
	t.Helper()
	do := func(args ...string) string {
		t.Helper()
		cmd := program(args...)
		cmd.Dir = dir
		var out, errors bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errors
		cmd.Run()
		if cmd.ProcessState.ExitCode() > statusReport {
			t.Fatalf("calsplice %s: %s", strings.Join(args, " "), errors.String())
		}
		return out.String()
	}
	put := func(name, content string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	copied := func(from string, to ...string) {
		t.Helper()
		raw, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range to {
			put(name, string(raw))
		}
	}
	do("demo", "-o", dir)
	copied("van-fitted.json", "van.json", "found.json", "base.json")
	copied("van-delivered.json", "donor.json")
	copied("van-corrected.json", "van-2.json", "corrected.json", "ours.json")
	copied("van-colleague.json", "theirs.json")
	copied("drive-2.csv", "day1.csv")
	copied("drive-3.csv", "day2.csv")
	copied("trims-1.json", "monday.json")
	copied("trims-2.json", "tuesday.json")
	do("convert", "corrected.json", "-o", "corrected.xlsx")
	do("diff", "van.json", "van-2.json", "-o", "changes.json")
	put("spark.tsv", do("give", "van.json", "--table", "spark.advance", "--tsv"))
	put("offset.tsv", do("give", "van.json", "--table", "injector.offset", "--tsv"))
	withTerminal(t, filepath.Join(dir, "drive-1.csv"), filepath.Join(dir, "drive.csv"))
	other(t, filepath.Join(dir, "van.json"), filepath.Join(dir, "other.json"))
	do("merge", "base.json", "theirs.json", "other.json", "-o", "merged.json")
	list, err := conflictfile.Read(filepath.Join(dir, "merged.conflicts.json"), nil)
	if err != nil || len(list.Conflicts) == 0 {
		t.Fatalf("%d conflicts to decide: %v", len(list.Conflicts), err)
	}
	put("decide.decisions.json", fmt.Sprintf(`{"format": "calsplice.decisions/1", "decisions": [{"table": %q, "at": %s, "take": "theirs"}]}`, list.Conflicts[0].Table, list.Conflicts[0].At()))
}

// withTerminal copies a log with one column more, as a logger names the battery.
func withTerminal(t *testing.T, from, to string) {
	t.Helper()
	raw, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for i, line := range strings.Split(strings.TrimSpace(string(raw)), "\n") {
		if i == 0 {
			out.WriteString(line + ",Terminal 30\n")
		} else {
			out.WriteString(line + ",14\n")
		}
	}
	err = tablefile.Replace(to, nil, func(w io.Writer) error { _, err := io.WriteString(w, out.String()); return err })
	if err != nil {
		t.Fatal(err)
	}
}

// other writes a calibration whose flow and spark another person changed too.
func other(t *testing.T, from, to string) {
	t.Helper()
	doc, err := tablefile.Read(from, nil)
	for _, id := range []string{"injector.flow", "spark.advance"} {
		if err != nil {
			t.Fatal(err)
		}
		values := append([]float64(nil), doc.Table(id).Values()...)
		values[0]++
		var changed *tables.Table
		if changed, err = doc.Table(id).WithValues(values); err == nil {
			doc, err = doc.WithTable(changed)
		}
	}
	if err == nil {
		err = tablefile.Write(to, doc, tablefile.Options{})
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestHelpTexts: help.txt has a section for every command and topic, and no other.
func TestHelpTexts(t *testing.T) {
	text, err := os.ReadFile("manual/help.txt")
	if err != nil {
		t.Fatal(err)
	}
	known := []string{"filters", "shared"}
	for _, p := range topics() {
		known = append(known, p.Name)
	}
	for _, c := range commands() {
		known = append(known, c.name)
	}
	for _, name := range known {
		if manual.Of(name).Usage == "" {
			t.Errorf("help.txt has nothing on %s", name)
		}
	}
	for _, m := range regexp.MustCompile(`(?m)^= ([a-z -]*)`).FindAllStringSubmatch(string(text), -1) {
		if name := strings.TrimSpace(m[1]); !slices.Contains(known, name) {
			t.Errorf("help.txt has a section %q, which is no command and no topic", name)
		}
	}
}

// TestDeclaredAsComputed: what help.txt says of defaults and of names that may be
// given is what the packages have that compute with them.
func TestDeclaredAsComputed(t *testing.T) {
	flag := func(command, name string) manual.Declared {
		list := manual.Of(command).Flags()
		return list[slices.IndexFunc(list, func(d manual.Declared) bool { return d.Names[0] == name })]
	}
	for command, d := range map[string]propose.Options{"propose fuel": propose.Defaults(), "propose spark": propose.SparkDefaults()} {
		for name, v := range map[string]float64{"bound": d.Bound, "min-count": float64(d.MinCount), "min-visits": float64(d.MinVisits)} {
			if got := flag(command, name).Default; got != fmt.Sprint(v) {
				t.Errorf("%s --%s is %s where it is not given, want %v", command, name, got, v)
			}
		}
	}
	for name, v := range map[string]float64{"gain": propose.Defaults().Gain, "dead-band": propose.Defaults().DeadBand} {
		if got := flag("propose fuel", name).Default; got != fmt.Sprint(v) {
			t.Errorf("--%s is %s where it is not given, want %v", name, got, v)
		}
	}
	var filters []string
	for _, f := range sift.Filters {
		filters = append(filters, string(f))
	}
	for name, list := range map[string][]string{"show": tally.Statistics, "filter": filters} {
		if usage, want := flag("cells", name).Usage, strings.Join(list, ", "); !strings.Contains(usage, want) {
			t.Errorf("--%s: %s\nwant %s", name, usage, want)
		}
	}
}

// TestWrongNumbers: what is no number is refused in the words of the flag.
func TestWrongNumbers(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"propose fuel a.json b.csv --gain x", `--gain is "x", expected a number`},
		{"events drive.csv --above 1,5", `--above is "1,5", expected a threshold`},
		{"propose fuel a.json b.csv --min-count 1.5", `--min-count is 1.5, expected a whole number`},
		{"cells --nonsense", "calsplice cells has no flag --nonsense: calsplice cells --help lists them"},
		{"cells --wat", "calsplice cells has no flag --wat: calsplice cells --help lists them"},
		{"cells --gab", "calsplice cells has no flag --gab: did you mean --gap?"},
	} {
		if status, _, stderr := ran(c.line); status != statusTrouble || stderr != "calsplice: "+c.want+"\n" {
			t.Errorf("%s: status %d, %q, want %q", c.line, status, stderr, c.want)
		}
	}
}

// TestNumbers: a flag that is a number says what it cannot be.
func TestNumbers(t *testing.T) {
	for name, c := range map[string]struct{ good, bad, want string }{
		"gain":          {"-1", "NaN", "--gain is NaN, expected a number"},
		"above":         {"+Inf", "NaN", "--above is NaN, expected a threshold"},
		"warm-at":       {"-40", "Inf", "--warm-at is +Inf, expected a temperature in degC"},
		"within":        {"0", "-1", "--within is -1, expected a number from 0"},
		"density":       {"0.7", "0", "--density is 0, expected 0.5 to 1.1 kg/L"},
		"speed":         {"6000", "6", "--speed is 6, expected 100 to 30000 r/min"},
		"duty-limit":    {"100", "101", "--duty-limit is 101, expected 10 to 100 %"},
		"trim-limit":    {"8", "0.25", "--trim-limit is 0.25, expected the size in % at which the controller stops a trim, 1 at least"},
		"min-count":     {"3", "1.5", "--min-count is 1.5, expected a whole number"},
		"min-visits":    {"1e9", "1e20", "--min-visits is 1e+20, expected a whole number"},
		"lambda":        {"0.85", "12.5", "--lambda is 12.5, expected 0.4 to 2 (not an air/fuel ratio)"},
		"barometer":     {"101.325", "1013", "--barometer is 1013, expected 50 to 115 kPa"},
		"header-line":   {"2", "1.5", "--header-line is 1.5, expected a line, counted from 1"},
		"max-line":      {"1024", "1023", "--max-line is 1023, expected bytes, 1024 or more"},
		"bound":         {"1e2", "1e999", `--bound is "1e999", expected a number`},
		"rail-pressure": {"1000", "3.8", "--rail-pressure is 3.8, expected 20 to 1000 kPa"},
	} {
		if what := numbers[name].wrong(c.good); what != "" {
			t.Errorf("%s: %s", c.good, what)
		}
		if got := "--" + name + " is " + numbers[name].wrong(c.bad); got != c.want {
			t.Errorf("%s: %s, want %s", c.bad, got, c.want)
		}
	}
}
