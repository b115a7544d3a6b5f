package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"calsplice/cmd/calsplice/licences"
)

func version(in *input) {
	if in.yes("licences") {
		must(io.WriteString(in.stdout, licences.Notices))
		return
	}
	fmt.Fprintf(in.stdout, "calsplice %s %s %s/%s\n", buildVersion(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

// stamped and commit are set by the linker where an archive is made.
var stamped, commit string

// buildVersion is the version of an archive, or the module's, with the commit
// where it is known.
func buildVersion() string {
	version, revision := stamped, commit
	info, ok := debug.ReadBuildInfo()
	if version == "" && ok && info.Main.Version != "(devel)" {
		version = info.Main.Version
	}
	if version == "" {
		version = "devel"
	}
	if revision == "" && ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				revision = s.Value
			}
		}
	}
	if revision == "" {
		return version
	}
	return version + " (commit " + revision[:min(len(revision), 12)] + ")"
}
