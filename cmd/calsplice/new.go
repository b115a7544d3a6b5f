package main

import (
	"fmt"
	"io"
	"os"
	"slices"

	"calsplice/tables"
	"calsplice/tables/form"
	"calsplice/tables/tablefile"
)

func newForm(in *input) {
	f := form.Form{Name: in.text("name")}
	for _, word := range in.list("roles") {
		r := tables.Role(word)
		err := r.Validate()
		refuse(err != nil, "--roles: %w", err)
		refuse(r == "" || slices.Contains(f.Roles, r), "--roles: %s is given twice, or is no role", tables.Quote(word))
		f.Roles = append(f.Roles, r)
	}
	if f.Roles == nil {
		f.Roles = slices.DeleteFunc(slices.Clone(tables.Roles), func(r tables.Role) bool { return r == tables.Other })
	}
	out := in.arg(0)
	format := must(tablefile.OutFormat(out, tablefile.Options{}))
	if info, err := os.Stat(out); err == nil && info.Mode().IsRegular() {
		check(&tables.Fault{File: out, What: "is there already, perhaps filled in: give the form another name"})
	}
	check(tablefile.Replace(out, in.stdout, func(w io.Writer) error { return f.Write(w, format) }))
	if !toStdout(out) {
		in.caution(fmt.Sprintf("fill in what is blank in %s; then calsplice check %[1]s names what is still missing", out))
	}
}
