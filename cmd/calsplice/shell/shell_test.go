package shell

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/manual"
)

var some = manual.Read(`
= show
it's shown
--table ID  the table
-q  quietly
--color WHEN  in colour
= propose
= propose fuel
corrections of fuel
--gain SHARE  how much
= propose spark
corrections of spark`)

var values = Values{Flags: map[string][]string{"--color": {"auto", "always", "never"}}, Arguments: map[string][]string{"propose spark": {"gently", "hard"}},
	Files: []string{"--table"}}

// stub stands for the program that the scripts ask: of each file among the words
// it lists one word of the flag.
const stub = "calsplice() { flag=\"$3\"; shift 3; for w in \"$@\"; do if [ -f \"$w\" ]; then echo \"$flag.$w\"; fi; done; }\n"

// scriptFor is a shell's script, and the shell itself; the test is skipped where
// there is none.
func scriptFor(t *testing.T, shell string) (script, path string) {
	t.Helper()
	path, err := exec.LookPath(shell)
	if err != nil {
		t.Skipf("there is no %s here", shell)
	}
	script, err = Script(shell, "calsplice", some, values)
	if err != nil {
		t.Fatal(err)
	}
	return script, path
}

// files is a folder with names that a shell takes apart where it is let.
func files(t *testing.T) string {
	dir := t.TempDir()
	for _, name := range []string{"van fön.json", "a[1].json", "a1.json", "b  two.json", "below/c.json"} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// TestBashCompletes runs the script in a real bash, as its own completion
// would. Words of the line are parted by |.
func TestBashCompletes(t *testing.T) {
	script, path := scriptFor(t, "bash")
	dir := files(t)
	for _, c := range []struct{ line, want, why string }{
		{"calsplice|s", "show", "a command by its beginning"},
		{"calsplice|", "show|propose", "every command"},
		{"calsplice|show|--t", "--table", "a flag of the command"},
		{"calsplice|show|-", "--table|-q|--color|--help", "every flag"},
		{"calsplice|propose|", "fuel|spark", "subcommands"},
		{"calsplice|propose|fuel|--g", "--gain", "a flag of a subcommand"},
		{"calsplice|show|--color|a", "auto|always", "the values of a flag"},
		{"calsplice|show|a1.json|--table|t", "table.a1.json", "what the program finds in a file"},
		{"calsplice|show|--color|=|n", "never", "the same behind an equals sign"},
		{"calsplice|show|--color|=", "auto|always|never", "nothing yet behind it"},
		{"calsplice|show|v", "van fön.json", "a blank in a file's name"},
		{"calsplice|show|a", "a1.json|a[1].json", "brackets in a file's name"},
		{"calsplice|show|a[", "a[1].json", "brackets are no pattern"},
		{"calsplice|show|b", "b  two.json|below", "two blanks; a folder"},
		{"calsplice|show|below/", "below/c.json", "below a folder"},
	} {
		run := stub + script + "\nCOMP_WORDS=("
		for _, w := range strings.Split(c.line, "|") {
			run += " '" + w + "'"
		}
		run += ")\nCOMP_CWORD=$((${#COMP_WORDS[@]}-1))\n_calsplice\nprintf '%s\\n' \"${COMPREPLY[@]}\"\n"
		cmd := exec.Command(path, "-c", run)
		cmd.Dir = dir
		out, err := cmd.CombinedOutput()
		got, want := strings.Split(strings.TrimSpace(string(out)), "\n"), strings.Split(c.want, "|")
		slices.Sort(got) // as bash does before it shows them
		slices.Sort(want)
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%s: %q completes to %q, want %q (%v)", c.why, c.line, got, want, err)
		}
	}
}

// TestZshCompletes runs the script in a real zsh, whose own completion functions
// say what they are asked for.
func TestZshCompletes(t *testing.T) {
	script, path := scriptFor(t, "zsh")
	file := filepath.Join(files(t), "a1.json")
	const stubs = "compdef() { : }\ncompset() { : }\n_files() { print files }\ncompadd() { shift; print -r -- \"${(j:|:)@}\" }\n"
	for _, c := range []struct{ line, want, why string }{
		{"calsplice|", "show|propose", "every command"},
		{"calsplice|show|-", "--table|-q|--color|--help", "every flag"},
		{"calsplice|propose|", "fuel|spark", "subcommands"},
		{"calsplice|propose|fuel|-", "--gain|--help", "a flag of a subcommand"},
		{"calsplice|show|--color|", "auto|always|never", "the values of a flag"},
		{"calsplice|show|--color=a", "auto|always|never", "the same behind an equals sign"},
		{"calsplice|show|v", "files", "files are zsh's affair"},
		{"calsplice|propose|fuel|below/", "files", "below folders too"},
		{"calsplice|show|" + file + "|--table|", "table." + file, "what the program finds in a file"},
	} {
		words := strings.Split(c.line, "|")
		run := stub + stubs + script + fmt.Sprintf("\nwords=('%s')\nCURRENT=%d\n_calsplice\n", strings.Join(words, "' '"), len(words))
		out, err := exec.Command(path, "-f", "-c", run).CombinedOutput()
		if got := strings.TrimSpace(string(out)); err != nil || got != c.want {
			t.Errorf("%s: %q asks for %q, want %q (%v)", c.why, c.line, got, c.want, err)
		}
	}
}

// TestFishCompletes asks a real fish.
func TestFishCompletes(t *testing.T) {
	script, path := scriptFor(t, "fish")
	dir := files(t)
	for _, c := range []struct{ line, want, why string }{
		{"calsplice sh", "show", "a command by its beginning"},
		{"calsplice show --color a", "always auto", "the values of a flag"},
		{"calsplice show van", "van fön.json", "a file"},
		{"calsplice show a1.json --table t", "table.a1.json", "what the program finds in a file"},
		{"calsplice show below/", "below/c.json", "below a folder"},
	} {
		cmd := exec.Command(path, "--no-config", "-c", "function calsplice; for w in $argv[4..]; test -f $w; and echo $argv[3].$w; end; end\n"+script+"\ncomplete -C '"+c.line+"'")
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "HOME="+dir)
		out, err := cmd.CombinedOutput()
		var got []string
		for line := range strings.Lines(string(out)) {
			word, _, _ := strings.Cut(strings.TrimSpace(line), "\t")
			got = append(got, word)
		}
		if err != nil || strings.Join(got, " ") != c.want {
			t.Errorf("%s: %q completes to %q, want %q (%v)", c.why, c.line, got, c.want, err)
		}
	}
}

// TestEveryShellKnowsEveryWord looks for each command and flag in each script;
// where the shell is here, the shell itself reads the script.
func TestEveryShellKnowsEveryWord(t *testing.T) {
	for _, shell := range Shells {
		script, err := Script(shell, "calsplice", some, values)
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"show", "propose", "fuel", "spark", "table", "gain", "help", "always", "gently"} {
			if !strings.Contains(script, word) {
				t.Errorf("%s does not know %s", shell, word)
			}
		}
		if path, err := exec.LookPath(shell); err == nil && shell != "powershell" {
			cmd := exec.Command(path, "-n")
			cmd.Stdin = strings.NewReader(script)
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%s: %v: %s", shell, err, out)
			}
		}
	}
	if _, err := Script("tcsh", "calsplice", some, values); err == nil {
		t.Error("a shell that is not known is taken")
	}
}
