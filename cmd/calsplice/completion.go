package main

import (
	"fmt"
	"io"
	"os"
	"slices"

	"calsplice/cmd/calsplice/shell"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

func completion(in *input) {
	script := must(shell.Script(in.arg(0), programName, sections(), shell.Values{
		Flags:     choiceFlags(),
		Files:     fileWords,
		Arguments: map[string][]string{"completion": shell.Shells, "schema": schemaNames()}}))
	must(io.WriteString(in.stdout, script))
}

// fileWords are the flags whose values stand in the files on the line: tables'
// ids, or the channels of logs.
var fileWords = []string{"--table", "--target", "--remove", "--value", "--channel"}

// complete is what the completion scripts ask for the values of
// [fileWords]. It is as quick as reading the files, and says nothing where they
// cannot be read.
func complete(in *input) {
	var words []string
	for _, file := range in.rest() {
		if info, err := os.Stat(file); err != nil || !info.Mode().IsRegular() || info.Size() > 64<<20 {
			continue
		}
		attempt(func() {
			switch in.arg(0) {
			case "table", "target", "remove":
				words = append(words, must(tablefile.Read(file, nil)).IDs()...)
			case "value", "channel":
				words = append(words, channelsIn(file)...)
			}
		})
	}
	slices.Sort(words)
	for _, w := range slices.Compact(words) {
		fmt.Fprintln(in.stdout, w)
	}
}

func channelsIn(file string) []string {
	l := must(drivelog.Open(file, nil, drivelog.Options{}))
	defer l.Close()
	logged, derived := drivelog.Channels()
	return slices.DeleteFunc(append(logged, derived...), func(name string) bool { return !l.Has(name) })
}
