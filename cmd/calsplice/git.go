package main

import (
	"fmt"
	"strconv"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/tables"
)

func gitInstall(in *input) error {
	patterns := in.many("pattern")
	if len(patterns) == 0 {
		patterns = gitdriver.Patterns
	}
	done, err := gitdriver.Scope{Global: in.yes("global")}.Install(patterns, in.yes("cache"))
	if err == nil {
		printLines(in.stdout, done)
	}
	return err
}

func gitRemove(in *input) error {
	done, err := gitdriver.Scope{Global: in.yes("global")}.Remove()
	if err == nil {
		printLines(in.stdout, done)
	}
	return err
}

func gitDoctor(in *input) error {
	findings, err := gitdriver.Scope{}.Doctor()
	if err != nil {
		return err
	}
	if len(findings) == 0 {
		printLines(in.stdout, []string{"git is set up for calsplice in this clone"})
		return nil
	}
	printLines(in.stdout, findings)
	return errReport
}

func gitPreCommit(in *input) error {
	standing, err := gitdriver.Scope{}.Commit()
	if err != nil || len(standing) == 0 {
		return err
	}
	for _, s := range standing {
		fmt.Fprintln(in.stderr, "calsplice:", s)
	}
	fmt.Fprintln(in.stderr, "calsplice: nothing is committed")
	return errReport
}

func gitTextconv(in *input) error {
	return gitdriver.Textconv(in.stdout, in.arg(0), in.stdin)
}

func gitMerge(in *input) error {
	marker, err := strconv.Atoi(in.arg(3))
	if err != nil {
		return fmt.Errorf("marker size %s is no number", tables.Quote(in.arg(3)))
	}
	conflicts, err := gitdriver.Merging{Base: in.arg(0), Ours: in.arg(1), Theirs: in.arg(2), Marker: marker, Path: in.arg(4),
		Virtual: in.yes("virtual")}.Run(in.stderr)
	if err == nil && conflicts {
		return errReport
	}
	return err
}

func gitTool(in *input) error {
	left, err := gitdriver.Merged{Base: in.arg(0), Ours: in.arg(1), Theirs: in.arg(2), Merged: in.arg(3)}.Tool(in.stdin, in.stdout)
	if err == nil && left {
		return errReport
	}
	return err
}
