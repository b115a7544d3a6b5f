// Package schema holds the JSON Schemas (2020-12) of the documents, for
// validators and editors of other makers. Where a schema cannot say what the
// format demands (breakpoints that increase, ids that are unique), its
// description does, and the readers check.
package schema

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
)

//go:embed *.json
var files embed.FS

// Names lists the schemas that are kept as text: the documents first, the
// calibration before any other.
var Names = []string{"calibration", "cells", "changes", "conflicts", "decisions", "channels", "explain", "log-profile"}

// Text is a schema by its name.
func Text(name string) ([]byte, error) {
	if !slices.Contains(Names, name) {
		return nil, fmt.Errorf("there is no schema %s, only %s", tables.Quote(name), strings.Join(Names, ", "))
	}
	cell := `{"type": "number"}`
	if name != "calibration" {
		cell = `{"description": "null is an empty cell.", "type": ["number", "null"]}`
	}
	roles, err := json.Marshal(tables.Roles)
	if err != nil {
		return nil, err
	}
	defs := strings.NewReplacer("CELL", cell, "ROLES", string(roles)).Replace(read("defs.json"))
	inner := strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(defs), "{"), "}")
	text := strings.NewReplacer("MOREDEFS", inner, "DEFS", defs).Replace(read(name + ".json"))
	return indent(text), nil
}

// indent lays a schema out. The program's own texts are JSON.
func indent(text string) []byte {
	var out bytes.Buffer
	if err := json.Indent(&out, []byte(text), "", "  "); err != nil {
		panic(err)
	}
	return append(bytes.TrimRight(out.Bytes(), "\n"), '\n')
}

func read(name string) string {
	b, err := files.ReadFile(name)
	if err != nil {
		panic(err) // it is part of the program
	}
	return string(b)
}
