package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/merge/caution"
	"calsplice/tables"
	"calsplice/tables/unit"
)

func helpCommand() *cli.Command {
	return &cli.Command{
		Name:      "help",
		Usage:     "help on a command or a topic",
		ArgsUsage: "[COMMAND...|TOPIC]",
		Description: `Prints what COMMAND --help prints, or a topic that several commands share; "man"
is the manual page of all of it, for Unix systems.

   calsplice help diff
   calsplice help logs`,
		Action: func(c *cli.Context) error {
			m := theManual(c.App)
			words := c.Args().Slice()
			switch {
			case len(words) == 0:
				m.Overview(c.App.Writer)
				return nil
			case len(words) == 1 && words[0] == "man":
				return m.Man(c.App.Writer, buildVersion())
			case len(words) == 1 && m.Topic(c.App.Writer, words[0]):
				return nil
			}
			name, list := m.Name, m.Commands
			for i, w := range words {
				cmd := find(list, w)
				if cmd == nil && i == 0 {
					return errors.New(tables.Unknown("command or topic", w, m.Names()))
				} else if cmd == nil {
					return unknownCommand(name, w, list)
				}
				name, list = name+" "+cmd.Name, cmd.Subcommands
				if i == len(words)-1 {
					m.Command(c.App.Writer, name, cmd)
				}
			}
			return nil
		},
	}
}

func init() {
	cli.HelpPrinter = printHelp
	// The library words every flag of every command at each start, for help that
	// the manual writes here.
	cli.FlagStringer = func(f cli.Flag) string { return f.Names()[0] }
}

// printHelp prints help in place of the command library's own.
func printHelp(w io.Writer, _ string, data any) {
	switch d := data.(type) {
	case *cli.App:
		theManual(d).Overview(w)
	case *cli.Command:
		m := &manual.Manual{Name: "calsplice", Topics: topics()}
		m.Command(w, d.HelpName, d)
	}
}

func theManual(app *cli.App) *manual.Manual {
	shown := slices.DeleteFunc(slices.Clone(app.Commands), func(c *cli.Command) bool { return c.Hidden })
	return &manual.Manual{Name: app.Name, Usage: app.Usage, Commands: shown, Topics: topics()}
}

// unknownCommand says that a command has no such subcommand; before is what was
// typed before it.
func unknownCommand(before, name string, list []*cli.Command) error {
	var names []string
	for _, c := range list {
		names = append(names, c.Name)
	}
	s := tables.Unknown("command", name, names)
	if len(names) > 10 && !strings.HasSuffix(s, "?") {
		s = "there is no command " + tables.Quote(name)
	}
	return fmt.Errorf("%s; %s --help lists them", s, before)
}

// unknownFlag says which flag a command line may have meant, in place of the
// error of the flag package; others stay as they are.
func unknownFlag(c *cli.Context, err error) error {
	name, ok := strings.CutPrefix(err.Error(), "flag provided but not defined: ")
	if !ok {
		return err
	}
	typed := "--" + strings.TrimLeft(name, "-")
	if strings.TrimLeft(name, "-") == "" || len(strings.TrimLeft(name, "-")) == 1 {
		typed = name
	}
	var names []string
	for _, f := range c.Command.Flags {
		for _, n := range f.Names() {
			if len(n) > 1 {
				names = append(names, "--"+n)
			}
		}
	}
	what := "calsplice"
	if c.Command.HelpName != "" {
		what = c.Command.HelpName
	}
	if near := tables.Nearest(typed, names); near != "" {
		return fmt.Errorf("%s has no flag %s: did you mean %s?", what, typed, near)
	}
	return fmt.Errorf("%s has no flag %s: %s --help lists them", what, typed, what)
}

// topics are the pages of help that no single command is about.
func topics() []manual.Topic {
	return []manual.Topic{
		{Name: "files", Usage: "which files are read and written", Text: filesHelp},
		{Name: "clipboard", Usage: "how a table is pasted in and copied out", Text: clipboardHelp},
		{Name: "logs", Usage: "how a drive log is read", Text: logsHelp, Category: logCategory, Flags: logFlags()},
		{Name: "roles", Usage: "what a table may mean", Text: rolesHelp()},
		{Name: "units", Usage: "the units that are converted", Text: unitsHelp()},
		{Name: "cautions", Usage: "what to be careful of", Text: strings.Join(caution.Standing, "\n\n")},
	}
}

const filesHelp = `Calibrations, cell averages and change sets are files in three formats, told by the extension: JSON
(.json), CSV (.csv) and a workbook (.xlsx). A file converted to another format and back is the same.
"-" is standard input or output, in JSON unless --format says otherwise.

A result goes to -o FILE. Its extension chooses the format; .html is a page for a browser, and a
change set as .patch.json is a JSON Patch (RFC 6902). Only what -o names is written, and the list of
a merge's conflicts beside it. An output is the old file or the new one, whole.

A change set in a workbook or CSV can be reviewed in a spreadsheet: delete a row to reject an edit,
change its "to" to correct it, and apply the file.

Drive logs are CSV files of any logger, plain, gzip or zstd: see calsplice help logs. A table copied
from an editor is a grid: "calsplice take" makes a table of it, "calsplice give" prints one.

Status 0 is nothing to report, 1 something to report, 2 trouble, as POSIX diff has it.

What is read is bounded: 256 MiB a file and 20 million cells, moved by CALSPLICE_MAX_MIB and
CALSPLICE_MAX_CELLS in the environment. calsplice schema prints the JSON Schemas.`

const clipboardHelp = `Copy the table in the editor or spreadsheet, with its breakpoints; an empty corner is best. Then:

  macOS     pbpaste | calsplice take - --id spark.advance --into van.json -o new.json
  Wayland   wl-paste | calsplice take - --id spark.advance --into van.json -o new.json
  X11       xclip -sel clip -o | calsplice take - --id spark.advance --into van.json -o new.json
  Windows   Get-Clipboard | calsplice take - --id spark.advance --into van.json -o new.json

Windows means PowerShell. A table that the calibration does not have yet needs more words:

  pbpaste | calsplice take - --id spark.advance --role spark.advance --unit deg \
    --x 'engine speed [r/min]' --y 'air charge [mg]' --into van.json -o new.json

Back out, for an editor with points or with commas as decimal marks:

  calsplice give new.json --table spark.advance --tsv | pbcopy
  calsplice give new.json --table spark.advance --tsv --decimal , | wl-copy
  calsplice give new.json --table spark.advance --tsv | xclip -sel clip
  calsplice give new.json --table spark.advance --tsv | Set-Clipboard`

const logsHelp = `A drive log is CSV: a row an instant with a column a channel, or a row a reading. Delimiter, decimal
mark, encoding, header, units and clock are detected; where two readings are left, the log is refused
and the flag that decides is named. Look first:

   calsplice channels drive.csv

It lists what each column was taken for and why, with its unit, range, sampling and faults. These
flags decide where detection is not wanted, for every command that reads logs. Say them once:
"channels LOG … --save logger.json" keeps them, "--log-profile logger.json" uses them.`

func rolesHelp() string {
	var b strings.Builder
	b.WriteString("A role says what a table means, where something is computed with it. Every table can be compared\nand merged without one.\n\n")
	for _, r := range tables.Roles {
		fmt.Fprintf(&b, "  %s\n      %s\n", r, r.Shape().Meaning)
	}
	b.WriteString("\nAxis quantities that are computed with: " + strings.Join(tables.Quantities, ", ") + ".\n")
	return b.String()
}

func unitsHelp() string {
	var b strings.Builder
	b.WriteString("Units are read in the trade's usual names and in UCUM codes, and converted exactly (NIST SP 811).\nMass and volume flow convert only with a fuel density. Units that are not known are kept as text.\n\n")
	for _, d := range unit.Dimensions() {
		line := fmt.Sprintf("  %-20s", d)
		for _, name := range unit.Names(d) {
			if len(line)+len(name)+2 > 98 {
				b.WriteString(strings.TrimRight(line, " ") + "\n")
				line = strings.Repeat(" ", 22)
			}
			line += name + "  "
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

// isVersion reports whether the program is asked for its version.
func isVersion(args []string) bool {
	return len(args) == 1 && slices.Contains([]string{"--version", "-version", "-v", "-V"}, args[0])
}
