package main

import (
	"fmt"
	"strconv"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/tables"
)

func gitInstall(in *input) {
	patterns := in.many("pattern")
	if len(patterns) == 0 {
		patterns = gitdriver.Patterns
	}
	printLines(in.stdout, gitdriver.Scope{Global: in.yes("global")}.Install(patterns, in.yes("cache")))
}

func gitRemove(in *input) {
	printLines(in.stdout, gitdriver.Scope{Global: in.yes("global")}.Remove())
}

func gitDoctor(in *input) {
	findings := gitdriver.Scope{}.Doctor()
	if in.found = len(findings) > 0; !in.found {
		findings = []string{"git is set up for calsplice in this clone"}
	}
	printLines(in.stdout, findings)
}

func gitPreCommit(in *input) {
	standing := gitdriver.Scope{}.Commit()
	if in.found = len(standing) > 0; !in.found {
		return
	}
	for _, s := range standing {
		fmt.Fprintln(in.stderr, "calsplice:", s)
	}
	fmt.Fprintln(in.stderr, "calsplice: nothing is committed")
}

func gitTextconv(in *input) { gitdriver.Textconv(in.stdout, in.arg(0), in.stdin) }

func gitMerge(in *input) {
	marker, err := strconv.Atoi(in.arg(3))
	refuse(err != nil, "marker size %s is no number", tables.Quote(in.arg(3)))
	in.found = gitdriver.Merging{Base: in.arg(0), Ours: in.arg(1), Theirs: in.arg(2), Marker: marker, Path: in.arg(4),
		Virtual: in.yes("virtual")}.Run(in.stderr)
}

func gitTool(in *input) {
	in.found = gitdriver.Merged{Base: in.arg(0), Ours: in.arg(1), Theirs: in.arg(2), Merged: in.arg(3)}.Tool(in.stdin, in.stdout)
}
