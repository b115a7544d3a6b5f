package main

import (
	"fmt"
	"slices"

	"calsplice/cmd/calsplice/manual"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// choicesOf are the values of a flag that has a few, which help.txt lists or a
// package computes with; nil for others. Completion offers them.
func choicesOf(d manual.Declared) []string {
	switch d.Names[0] {
	case "role":
		return tables.RoleNames()
	case "show":
		return append(slices.Clone(tally.Statistics), "interval")
	case "group":
		return []string{d.Default}
	}
	return d.Choices()
}

// wrongChoice is [wrong] of a flag that has a few values.
func wrongChoice(d manual.Declared, v string) string {
	list := choicesOf(d)
	if list == nil || slices.Contains(list, v) {
		return ""
	}
	if near := tables.Nearest(v, list); near != "" && v != "" {
		return fmt.Sprintf("%s: did you mean %s?", tables.Quote(v), near)
	}
	return fmt.Sprintf("%s, expected %s", tables.Quote(v), tables.Listed(list, "or"))
}

// choiceFlags are the choices by the flags as they are typed.
func choiceFlags() map[string][]string {
	list := map[string][]string{}
	for _, s := range sections() {
		for _, d := range s.Flags() {
			if values := choicesOf(d); values != nil {
				list["--"+d.Names[0]] = values
			}
		}
	}
	return list
}
