// Package shell writes completion scripts: commands, subcommands and flags for
// bash, zsh, fish and PowerShell. What stands for a file is left to the shell.
package shell

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

// Shells lists the shells that there is a script for.
var Shells = []string{"bash", "zsh", "fish", "powershell"}

// Values are the words that may stand for something else than a file: for the
// value of a flag, such as "--color", for the argument of a command, and for a
// flag of which the program itself finds the words in the files on the line.
type Values struct {
	Flags, Arguments map[string][]string
	Files            []string // flags; "PROGRAM complete FLAG WORD..." lists their words
}

// entry is one command as the shell sees it: the words typed before, what may
// follow, and what it is for.
type entry struct {
	words []string // such as "propose", "fuel"
	usage string
	subs  []*cli.Command
	flags []flag
}

type flag struct{ name, usage string }

// script is what the scripts of all shells are made from.
type script struct {
	program  string
	commands []*cli.Command
	entries  []entry
	values   Values
}

// Script is the completion script of a shell.
func Script(shell, program string, commands []*cli.Command, values Values) (string, error) {
	s := script{program, commands, flatten(nil, commands), values}
	switch shell {
	case "bash":
		return s.bash(), nil
	case "zsh":
		return s.zsh(), nil
	case "fish":
		return s.fish(), nil
	case "powershell":
		return s.powershell(), nil
	}
	return "", errors.New(tables.Unknown("completion for", shell, Shells))
}

func flatten(before []string, commands []*cli.Command) []entry {
	var list []entry
	for _, c := range commands {
		if c.Hidden {
			continue
		}
		e := entry{words: append(append([]string(nil), before...), c.Name), usage: c.Usage, subs: c.Subcommands}
		for _, f := range c.Flags {
			usage := ""
			if d, ok := f.(cli.DocGenerationFlag); ok {
				usage = strings.ReplaceAll(d.GetUsage(), "`", "")
			}
			for _, n := range f.Names() {
				e.flags = append(e.flags, flag{dashed(n), usage})
			}
		}
		e.flags = append(e.flags, flag{"--help", "show help"})
		list = append(append(list, e), flatten(e.words, c.Subcommands)...)
	}
	return list
}

func dashed(name string) string {
	if len(name) == 1 {
		return "-" + name
	}
	return "--" + name
}

func names(commands []*cli.Command) string {
	var list []string
	for _, c := range commands {
		if !c.Hidden {
			list = append(list, c.Name)
		}
	}
	return strings.Join(list, " ")
}

func (e entry) flagNames() string {
	var list []string
	for _, f := range e.flags {
		list = append(list, f.name)
	}
	return strings.Join(list, " ")
}

// follow is what may follow a command's name: subcommands, or arguments that are
// no files.
func (s script) follow(e entry) string {
	return strings.TrimSpace(names(e.subs) + " " + strings.Join(s.values.Arguments[strings.Join(e.words, " ")], " "))
}

// sorted are the flags that have values of their own, in order.
func (s script) sorted() []string { return slices.Sorted(maps.Keys(s.values.Flags)) }

// cases are the branches of a case statement over the first two words, in which
// bash and zsh agree.
func (s script) cases() string {
	var b strings.Builder
	for _, e := range slices.Backward(s.entries) { // longer ones first
		pattern := fmt.Sprintf("'%s '*", strings.Join(e.words, " "))
		if len(e.words) > 1 {
			pattern = fmt.Sprintf("'%s'", strings.Join(e.words, " "))
		}
		fmt.Fprintf(&b, "    %s) subs=\"%s\" flags=\"%s\" ;;\n", pattern, s.follow(e), e.flagNames())
	}
	return b.String()
}

// asks is the branch of a case statement in which bash and zsh ask the program
// for the words of a flag.
func (s script) asks(into, words string) string {
	if len(s.values.Files) == 0 {
		return ""
	}
	return fmt.Sprintf("    %s) %s=\"$(%s complete -- \"${prev#--}\" \"%s\" 2>/dev/null)\" ;;\n",
		strings.Join(s.values.Files, "|"), into, s.program, words)
}

// bash reads names of files a line each: a shell's own splitting would cut them
// at blanks and take brackets for patterns.
func (s script) bash() string {
	var b strings.Builder
	fmt.Fprintf(&b, "_%s_take() {\n  local line\n  while IFS= read -r line; do COMPREPLY+=(\"$line\"); done\n}\n", s.program)
	fmt.Fprintf(&b, "_%s() {\n  local cur=\"${COMP_WORDS[COMP_CWORD]}\" prev=\"${COMP_WORDS[COMP_CWORD-1]}\" subs=\"\" flags=\"\" words=\"\"\n  COMPREPLY=()\n", s.program)
	b.WriteString("  if [ \"$prev\" = \"=\" ]; then prev=\"${COMP_WORDS[COMP_CWORD-2]}\"; fi\n  if [ \"$cur\" = \"=\" ]; then cur=\"\"; fi\n")
	b.WriteString("  case \"${COMP_WORDS[1]} ${COMP_WORDS[2]}\" in\n" + s.cases() + "  esac\n  case \"$prev\" in\n")
	for _, f := range s.sorted() {
		fmt.Fprintf(&b, "    %s) words=\"%s\" ;;\n", f, strings.Join(s.values.Flags[f], " "))
	}
	b.WriteString(s.asks("words", "${COMP_WORDS[@]:2}"))
	fmt.Fprintf(&b, "  esac\n  if [ \"$COMP_CWORD\" -eq 1 ]; then words=\"%s\"\n", names(s.commands))
	b.WriteString("  elif [ -n \"$words\" ]; then :\n  elif [ \"${cur#-}\" != \"$cur\" ]; then words=\"$flags\"\n")
	b.WriteString("  elif [ \"$COMP_CWORD\" -eq 2 ]; then words=\"$subs\"\n  fi\n")
	fmt.Fprintf(&b, "  if [ -n \"$words\" ]; then\n    _%[1]s_take < <(compgen -W \"$words\" -- \"$cur\")\n  else\n"+
		"    compopt -o filenames 2>/dev/null\n    _%[1]s_take < <(compgen -f -- \"$cur\")\n  fi\n}\ncomplete -F _%[1]s %[1]s\n", s.program)
	return b.String()
}

// zsh leaves files to its own _files, which goes on below a folder.
func (s script) zsh() string {
	var b strings.Builder
	fmt.Fprintf(&b, "#compdef %[1]s\n_%[1]s() {\n  local cur=\"${words[CURRENT]}\" prev=\"${words[CURRENT-1]}\" subs=\"\" flags=\"\" list=\"\"\n", s.program)
	b.WriteString("  case \"${words[2]} ${words[3]}\" in\n" + s.cases() + "  esac\n  case \"$prev\" in\n")
	for _, f := range s.sorted() {
		fmt.Fprintf(&b, "    %s) list=\"%s\" ;;\n", f, strings.Join(s.values.Flags[f], " "))
	}
	b.WriteString(s.asks("list", "${words[@]:2}") + "  esac\n  case \"$cur\" in\n")
	for _, f := range s.sorted() {
		fmt.Fprintf(&b, "    %s=*) compset -P '*='; list=\"%s\" ;;\n", f, strings.Join(s.values.Flags[f], " "))
	}
	fmt.Fprintf(&b, "  esac\n  if (( CURRENT == 2 )); then list=\"%s\"\n", names(s.commands))
	b.WriteString("  elif [[ -n $list ]]; then :\n  elif [[ $cur == -* ]]; then list=\"$flags\"\n  elif (( CURRENT == 3 )); then list=\"$subs\"\n  fi\n")
	b.WriteString("  if [[ -n $list ]]; then\n    compadd -- ${=list}\n  else\n    _files\n  fi\n}\n")
	fmt.Fprintf(&b, "if [[ ${funcstack[1]} == _%[1]s ]]; then\n  _%[1]s \"$@\"\nelse\n  compdef _%[1]s %[1]s\nfi\n", s.program)
	return b.String()
}

func (s script) fish() string {
	var b strings.Builder
	quote := func(t string) string { return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(t) + "'" }
	for _, c := range s.commands {
		fmt.Fprintf(&b, "complete -c %s -n __fish_use_subcommand -f -a %s -d %s\n", s.program, c.Name, quote(c.Usage))
	}
	for _, e := range s.entries {
		seen := "__fish_seen_subcommand_from " + strings.Join(e.words, "; and __fish_seen_subcommand_from ")
		for _, sub := range e.subs {
			fmt.Fprintf(&b, "complete -c %s -n %s -f -a %s -d %s\n", s.program, quote(seen), sub.Name, quote(sub.Usage))
		}
		if list := s.values.Arguments[strings.Join(e.words, " ")]; list != nil {
			fmt.Fprintf(&b, "complete -c %s -n %s -f -a %s\n", s.program, quote(seen), quote(strings.Join(list, " ")))
		}
		for _, f := range e.flags {
			kind := "-l"
			if !strings.HasPrefix(f.name, "--") {
				kind = "-s"
			}
			values := ""
			if list := s.values.Flags[f.name]; list != nil {
				values = " -x -a " + quote(strings.Join(list, " "))
			} else if slices.Contains(s.values.Files, f.name) {
				values = " -x -a " + quote(fmt.Sprintf("(%s complete -- %s (commandline -opc) 2>/dev/null)", s.program, strings.TrimLeft(f.name, "-")))
			}
			fmt.Fprintf(&b, "complete -c %s -n %s %s %s -d %s%s\n", s.program, quote(seen), kind, strings.TrimLeft(f.name, "-"), quote(f.usage), values)
		}
	}
	return b.String()
}

func (s script) powershell() string {
	var b strings.Builder
	quote := func(t string) string { return "'" + strings.ReplaceAll(t, "'", "''") + "'" }
	list := func(words string) string {
		var q []string
		for _, w := range strings.Fields(words) {
			q = append(q, quote(w))
		}
		return "@(" + strings.Join(q, ", ") + ")"
	}
	fmt.Fprintf(&b, "Register-ArgumentCompleter -Native -CommandName %s -ScriptBlock {\n  param($word, $ast, $cursor)\n", s.program)
	b.WriteString("  $typed = @($ast.CommandElements | Select-Object -Skip 1 | ForEach-Object { $_.ToString() })\n")
	b.WriteString("  if ($word -ne '') { $typed = @($typed | Select-Object -SkipLast 1) }\n")
	b.WriteString("  $key = ($typed | Where-Object { -not $_.StartsWith('-') } | Select-Object -First 2) -join ' '\n")
	fmt.Fprintf(&b, "  $known = [ordered]@{\n    '' = %s\n", list(names(s.commands)))
	for _, e := range s.entries {
		fmt.Fprintf(&b, "    %s = %s\n", quote(strings.Join(e.words, " ")), list(s.follow(e)+" "+e.flagNames()))
	}
	b.WriteString("  }\n  if (-not $known.Contains($key)) { $key = ($key -split ' ')[0] }\n")
	b.WriteString("  $found = $known[$key]\n")
	for _, f := range s.sorted() {
		fmt.Fprintf(&b, "  if ($typed.Count -gt 0 -and $typed[-1] -eq %s) { $found = %s }\n", quote(f), list(strings.Join(s.values.Flags[f], " ")))
	}
	for _, f := range s.values.Files {
		fmt.Fprintf(&b, "  if ($typed.Count -gt 0 -and $typed[-1] -eq %s) { $found = @(& %s complete '--' %s @typed 2>$null) }\n",
			quote(f), s.program, quote(strings.TrimLeft(f, "-")))
	}
	b.WriteString("  $found | Where-Object { $_ -like \"$word*\" } | ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }\n}\n")
	return b.String()
}
