// Package shell writes completion scripts: commands, subcommands and flags for
// bash, zsh, fish and PowerShell. What stands for a file is left to the shell.
package shell

import (
	"fmt"
	"strings"

	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

// Shells lists the shells that there is a script for.
var Shells = []string{"bash", "zsh", "fish", "powershell"}

// entry is one command as the shell sees it: the words typed before, what may
// follow, and what it is for.
type entry struct {
	words []string // such as "propose", "fuel"
	usage string
	subs  []*cli.Command
	flags []flag
}

type flag struct{ name, usage string }

// Script is the completion script of a shell.
func Script(shell, program string, commands []*cli.Command) (string, error) {
	entries := flatten(nil, commands)
	switch shell {
	case "bash":
		return bash(program, commands, entries), nil
	case "zsh":
		// zsh runs what bash runs once it is asked to.
		return "#compdef " + program + "\nautoload -U +X bashcompinit && bashcompinit\n" + bash(program, commands, entries), nil
	case "fish":
		return fish(program, commands, entries), nil
	case "powershell":
		return powershell(program, commands, entries), nil
	}
	return "", fmt.Errorf("there is no completion for %s, only %s", tables.Quote(shell), strings.Join(Shells, ", "))
}

func flatten(before []string, commands []*cli.Command) []entry {
	var list []entry
	for _, c := range commands {
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
		list = append(list, c.Name)
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

func bash(program string, commands []*cli.Command, entries []entry) string {
	var b strings.Builder
	fmt.Fprintf(&b, "_%s() {\n  local cur=\"${COMP_WORDS[COMP_CWORD]}\" subs=\"\" flags=\"\"\n  COMPREPLY=()\n", program)
	fmt.Fprintf(&b, "  if [ \"$COMP_CWORD\" -eq 1 ]; then\n    COMPREPLY=($(compgen -W \"%s\" -- \"$cur\"))\n    return\n  fi\n", names(commands))
	b.WriteString("  case \"${COMP_WORDS[1]} ${COMP_WORDS[2]}\" in\n")
	for i := len(entries) - 1; i >= 0; i-- { // longer ones first
		e := entries[i]
		pattern := fmt.Sprintf("'%s '*", strings.Join(e.words, " "))
		if len(e.words) > 1 {
			pattern = fmt.Sprintf("'%s'", strings.Join(e.words, " "))
		}
		fmt.Fprintf(&b, "    %s) subs=\"%s\" flags=\"%s\" ;;\n", pattern, names(e.subs), e.flagNames())
	}
	b.WriteString("  esac\n  if [ -n \"$subs\" ] && [ \"$COMP_CWORD\" -eq 2 ]; then\n    COMPREPLY=($(compgen -W \"$subs\" -- \"$cur\"))\n")
	b.WriteString("  elif [ \"${cur#-}\" != \"$cur\" ]; then\n    COMPREPLY=($(compgen -W \"$flags\" -- \"$cur\"))\n")
	b.WriteString("  else\n    compopt -o filenames 2>/dev/null\n    COMPREPLY=($(compgen -f -- \"$cur\"))\n  fi\n}\n")
	fmt.Fprintf(&b, "complete -F _%s %s\n", program, program)
	return b.String()
}

func fish(program string, commands []*cli.Command, entries []entry) string {
	var b strings.Builder
	quote := func(s string) string { return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + "'" }
	for _, c := range commands {
		fmt.Fprintf(&b, "complete -c %s -n __fish_use_subcommand -f -a %s -d %s\n", program, c.Name, quote(c.Usage))
	}
	for _, e := range entries {
		seen := "__fish_seen_subcommand_from " + strings.Join(e.words, "; and __fish_seen_subcommand_from ")
		for _, s := range e.subs {
			fmt.Fprintf(&b, "complete -c %s -n %s -f -a %s -d %s\n", program, quote(seen), s.Name, quote(s.Usage))
		}
		for _, f := range e.flags {
			kind := "-l"
			if !strings.HasPrefix(f.name, "--") {
				kind = "-s"
			}
			fmt.Fprintf(&b, "complete -c %s -n %s %s %s -d %s\n", program, quote(seen), kind, strings.TrimLeft(f.name, "-"), quote(f.usage))
		}
	}
	return b.String()
}

func powershell(program string, commands []*cli.Command, entries []entry) string {
	var b strings.Builder
	quote := func(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
	list := func(words string) string {
		var q []string
		for _, w := range strings.Fields(words) {
			q = append(q, quote(w))
		}
		return "@(" + strings.Join(q, ", ") + ")"
	}
	fmt.Fprintf(&b, "Register-ArgumentCompleter -Native -CommandName %s -ScriptBlock {\n  param($word, $ast, $cursor)\n", program)
	b.WriteString("  $typed = @($ast.CommandElements | Select-Object -Skip 1 | ForEach-Object { $_.ToString() })\n")
	b.WriteString("  if ($word -ne '') { $typed = @($typed | Select-Object -SkipLast 1) }\n")
	b.WriteString("  $key = ($typed | Where-Object { -not $_.StartsWith('-') } | Select-Object -First 2) -join ' '\n")
	fmt.Fprintf(&b, "  $known = [ordered]@{\n    '' = %s\n", list(names(commands)))
	for _, e := range entries {
		fmt.Fprintf(&b, "    %s = %s\n", quote(strings.Join(e.words, " ")), list(names(e.subs)+" "+e.flagNames()))
	}
	b.WriteString("  }\n  if (-not $known.Contains($key)) { $key = ($key -split ' ')[0] }\n")
	b.WriteString("  $known[$key] | Where-Object { $_ -like \"$word*\" } | ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }\n}\n")
	return b.String()
}
