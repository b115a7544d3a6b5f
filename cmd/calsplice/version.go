package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/urfave/cli/v2"
)

func versionCommand() *cli.Command {
	return &cli.Command{
		Name:        "version",
		Usage:       "the version of this program",
		Description: "Example:\n  calsplice version",
		Action: func(c *cli.Context) error {
			if err := wantArgs(c, 0, 0); err != nil {
				return err
			}
			fmt.Fprintf(c.App.Writer, "calsplice %s %s %s/%s\n", buildVersion(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		},
	}
}

// buildVersion is the module's version, or the commit that it was built from.
func buildVersion() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value
		}
	}
	return "devel"
}
