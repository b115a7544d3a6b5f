package shell

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

var some = []*cli.Command{
	{Name: "show", Usage: "it's shown", Flags: []cli.Flag{&cli.StringFlag{Name: "table", Usage: "`ID`"}, &cli.BoolFlag{Name: "q"}}},
	{Name: "propose", Subcommands: []*cli.Command{{Name: "fuel", Flags: []cli.Flag{&cli.Float64Flag{Name: "gain"}}}, {Name: "spark"}}},
}

// TestBashCompletes runs the script in a real bash, as its own completion
// would.
func TestBashCompletes(t *testing.T) {
	path, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("there is no bash here")
	}
	script, err := Script("bash", "calsplice", some)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ line, want, why string }{
		{"calsplice s", "show", "a command by its beginning"},
		{"calsplice ", "show propose", "every command"},
		{"calsplice show --t", "--table", "a flag of the command"},
		{"calsplice show -", "--table -q --help", "every flag"},
		{"calsplice propose ", "fuel spark", "subcommands"},
		{"calsplice propose fuel --g", "--gain", "a flag of a subcommand"},
	} {
		words := strings.Split(c.line, " ")
		run := script + "\nCOMP_WORDS=("
		for _, w := range words {
			run += " '" + w + "'"
		}
		run += ")\nCOMP_CWORD=$((${#COMP_WORDS[@]}-1))\n_calsplice\necho \"${COMPREPLY[*]}\"\n"
		out, err := exec.Command(path, "-c", run).CombinedOutput()
		if got := strings.TrimSpace(string(out)); err != nil || got != c.want {
			t.Errorf("%s: %q completes to %q, want %q (%v)", c.why, c.line, got, c.want, err)
		}
	}
}

// TestEveryShellKnowsEveryWord looks for each command and flag in each script;
// where the shell is here, the shell itself reads the script.
func TestEveryShellKnowsEveryWord(t *testing.T) {
	for _, shell := range Shells {
		script, err := Script(shell, "calsplice", some)
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"show", "propose", "fuel", "spark", "table", "gain", "help"} {
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
	if _, err := Script("tcsh", "calsplice", some); err == nil {
		t.Error("a shell that is not known is taken")
	}
}
