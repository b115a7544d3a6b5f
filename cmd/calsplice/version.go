package main

import (
	"cmp"
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

// stamped is the version and the commit of an archive, set by the linker.
var stamped string

// buildVersion is the version of an archive, or the module's, which tells the commit.
func buildVersion() string {
	version := stamped
	if info, ok := debug.ReadBuildInfo(); version == "" && ok && info.Main.Version != "(devel)" {
		version = info.Main.Version
	}
	return cmp.Or(version, "devel")
}
