package main

import (
	"fmt"
	"strconv"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

func gitInstall(c *cli.Context) error {
	patterns := many(c, "pattern")
	if len(patterns) == 0 {
		patterns = gitdriver.Patterns
	}
	done, err := gitdriver.Scope{Global: c.Bool("global")}.Install(patterns, c.Bool("cache"))
	if err == nil {
		printLines(c.App.Writer, done)
	}
	return err
}

func gitRemove(c *cli.Context) error {
	done, err := gitdriver.Scope{Global: c.Bool("global")}.Remove()
	if err == nil {
		printLines(c.App.Writer, done)
	}
	return err
}

func gitDoctor(c *cli.Context) error {
	findings, err := gitdriver.Scope{}.Doctor()
	if err != nil {
		return err
	}
	if len(findings) == 0 {
		printLines(c.App.Writer, []string{"git is set up for calsplice in this clone"})
		return nil
	}
	printLines(c.App.Writer, findings)
	return errReport
}

func gitPreCommit(c *cli.Context) error {
	standing, err := gitdriver.Scope{}.Commit()
	if err != nil || len(standing) == 0 {
		return err
	}
	for _, s := range standing {
		fmt.Fprintln(c.App.ErrWriter, "calsplice:", s)
	}
	fmt.Fprintln(c.App.ErrWriter, "calsplice: nothing is committed")
	return errReport
}

func gitTextconv(c *cli.Context) error {
	return gitdriver.Textconv(c.App.Writer, c.Args().First(), c.App.Reader)
}

func gitMerge(c *cli.Context) error {
	a := c.Args()
	marker, err := strconv.Atoi(a.Get(3))
	if err != nil {
		return fmt.Errorf("marker size %s is no number", tables.Quote(a.Get(3)))
	}
	conflicts, err := gitdriver.Merging{Base: a.Get(0), Ours: a.Get(1), Theirs: a.Get(2), Marker: marker, Path: a.Get(4),
		Virtual: c.Bool("virtual")}.Run(c.App.ErrWriter)
	if err == nil && conflicts {
		return errReport
	}
	return err
}

func gitTool(c *cli.Context) error {
	a := c.Args()
	left, err := gitdriver.Merged{Base: a.Get(0), Ours: a.Get(1), Theirs: a.Get(2), Merged: a.Get(3)}.Tool(c.App.Reader, c.App.Writer)
	if err == nil && left {
		return errReport
	}
	return err
}
