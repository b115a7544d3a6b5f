package main

import (
	"fmt"
	"slices"

	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// choices are the values of the flags that have a few, the default first where
// there is one. Completion offers them.
var choices = map[string][]string{
	"by":        {"cells", "fit"},
	"color":     {"auto", "always", "never"},
	"decimal":   {".", ","},
	"encoding":  {"utf-8", "utf-16le", "utf-16be", "latin-1"},
	"form":      {"wide", "long"},
	"format":    {"json", "csv", "xlsx"},
	"group":     {"injector"},
	"held":      {"yes", "no"},
	"method":    {"sample", "fit"},
	"outside":   {"hold", "extend", "refuse"},
	"prefer":    {"ours", "theirs"},
	"role":      tables.RoleNames(),
	"show":      append(slices.Clone(tally.Statistics), "interval"),
	"take":      {"ours", "theirs", "base"},
	"units-row": {"yes", "no"},
	"weight":    {"nearest", "spread"},
}

// checkChoice refuses the value of a flag that is none of its choices.
func checkChoice(name, v string) error {
	list := choices[name]
	if list == nil || slices.Contains(list, v) {
		return nil
	}
	if near := tables.Nearest(v, list); near != "" && v != "" {
		return fmt.Errorf("--%s is %s: did you mean %s?", name, tables.Quote(v), near)
	}
	return fmt.Errorf("--%s is %s, expected %s", name, tables.Quote(v), tables.Listed(list, "or"))
}

// choiceFlags are the choices by the flags as they are typed.
func choiceFlags() map[string][]string {
	list := map[string][]string{}
	for name, values := range choices {
		list["--"+name] = values
	}
	return list
}
