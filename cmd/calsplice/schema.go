package main

import (
	"errors"
	"reflect"
	"slices"

	"calsplice/cmd/calsplice/schema"
	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/merge"
	"calsplice/merge/propose"
	"calsplice/merge/transfer"
	"calsplice/tables"
)

// jsonOutputs lists what commands print with --json.
var jsonOutputs = []struct {
	name string
	of   reflect.Type
}{
	{"check", reflect.TypeFor[struct {
		Files []*checked `json:"files"`
	}]()},
	{"diff", reflect.TypeFor[merge.Report]()},
	{"diff-cells", reflect.TypeFor[cells.Comparison]()},
	{"merge", reflect.TypeFor[mergeReport]()},
	{"rescale", reflect.TypeFor[rescaleReport]()},
	{"transfer", reflect.TypeFor[transfer.Result]()},
	{"events", reflect.TypeFor[struct {
		Events []sift.Event `json:"events"`
	}]()},
	{"report", reflect.TypeFor[view.Job]()},
	{"propose", reflect.TypeFor[propose.Report]()},
}

func printSchema(in *input) { must(in.stdout.Write(must(schemaOf(in.arg(0))))) }

func schemaOf(name string) ([]byte, error) {
	for _, p := range jsonOutputs {
		if p.name == name {
			return schema.Of(p.name, p.of), nil
		}
	}
	if name == "" {
		name = schema.Names[0]
	}
	if !slices.Contains(schema.Names, name) {
		return nil, errors.New(tables.Unknown("schema", name, schemaNames()))
	}
	return schema.Text(name)
}

// schemaNames lists what there is a schema of.
func schemaNames() []string {
	names := slices.Clone(schema.Names)
	for _, p := range jsonOutputs {
		names = append(names, p.name)
	}
	return names
}
