package main

import (
	"fmt"
	"strconv"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

func gitCommands() []*cli.Command {
	global := &cli.BoolFlag{Name: "global", Usage: "for all repositories of this user, rather than this clone"}
	cache := &cli.BoolFlag{Name: "cache", Usage: "let git keep what it has shown of each version, in notes: a quicker git log -p"}
	pattern := manyFlag("pattern", "`GLOB`: files to name in .gitattributes (default: *.json, *.csv and *.xlsx); may be repeated")
	virtual := &cli.BoolFlag{Name: "virtual", Usage: "for a base that git makes up of several"}
	return []*cli.Command{
		command("install", "", "add the drivers to git's configuration, files to .gitattributes, and a hook", []cli.Flag{global, cache, pattern}, gitInstall),
		command("remove", "", "remove what install added", []cli.Flag{global}, gitRemove),
		command("doctor", "", "list what this clone lacks and which conflicts are open; exit 1 where there is either", nil, gitDoctor),
		command("textconv", "FILE", "print a calibration with one line per cell, for git diff", nil, gitTextconv),
		command("pre-commit", "", "refuse a commit while conflicts are open; the hook calls it", nil, gitPreCommit),
		command("merge-driver", "%O %A %B %L %P", "merge three files that git hands over", []cli.Flag{virtual}, gitMerge),
		command("merge-tool", "BASE LOCAL REMOTE MERGED", "ask about each conflict of a merged file", nil, gitTool),
	}
}

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
