package gitdriver

import (
	"cmp"
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// drivers are ours: the setting that makes each one of git's.
var drivers = []struct{ kind, setting string }{
	{"diff", "diff." + driver + ".textconv"},
	{"merge", "merge." + driver + ".driver"},
}

// Doctor says what this clone lacks (a driver that its attributes name and its
// configuration does not, a program that the configuration names and that is
// not there, attributes that name no driver, the hook) and which conflicts
// stand.
func (s Scope) Doctor() (findings []string) {
	s = s.top()
	named := s.named()
	installed := false
	for _, d := range drivers {
		// Attributes travel with a repository and configuration does not: a clone may be
		// told to use a driver that it lacks, and git says nothing of it.
		if s.setting(d.setting) != "" {
			installed = true
		} else if what := named[d.kind]; what != "" {
			findings = append(findings, fmt.Sprintf("this clone lacks the %s driver %q that git's attributes name for %s: calsplice git install adds it", d.kind, driver, what))
		}
	}
	switch {
	case installed:
		if named["merge"] == "" {
			findings = append(findings, "git's attributes name no file here for the merge driver: calsplice git install names some")
		}
		findings = slices.Concat(findings, s.program(), s.outdated(), s.lacksHook())
	case named["diff"]+named["merge"] == "":
		findings = append(findings, "this clone lacks calsplice's drivers, and git's attributes name no files for them: calsplice git install adds both")
	}
	for _, standing := range s.standing(documents(s.ask("ls-files", "-z"))) {
		findings = append(findings, standing.String())
	}
	return findings
}

// outdated names settings that an earlier version did not make.
func (s Scope) outdated() (findings []string) {
	for _, kv := range settings("") {
		if !strings.HasSuffix(s.setting(kv[0]), kv[1]) {
			findings = append(findings, fmt.Sprintf("git's setting %s is not %q: calsplice git install sets it", kv[0], strings.TrimSpace(kv[1])))
		}
	}
	return findings
}

// program checks that git would find the program that it is told to call.
func (s Scope) program() []string {
	line := s.setting("merge." + driver + ".driver")
	name, _, _ := strings.Cut(line, " git merge-driver")
	// As command wrote it for a shell, so it is read back.
	name = strings.ReplaceAll(strings.Trim(name, "'"), `'\''`, "'")
	if _, err := exec.LookPath(filepath.FromSlash(name)); line == "" || err == nil {
		return nil
	}
	return []string{fmt.Sprintf("git is configured to run %s, which does not exist; run calsplice git install", name)}
}

// named gives, for "diff" and "merge", what git's attributes name our driver for: a
// pattern of the usual ones, or a file of the clone.
func (s Scope) named() map[string]string {
	named := map[string]string{}
	for _, d := range drivers {
		for line := range strings.Lines(s.ask(append([]string{"check-attr", d.kind, "--"}, Patterns...)...)) {
			if pattern, ok := strings.CutSuffix(strings.TrimSpace(line), ": "+d.kind+": "+driver); ok {
				named[d.kind] = cmp.Or(named[d.kind], pattern)
			}
		}
		if named[d.kind] == "" {
			named[d.kind], _, _ = strings.Cut(s.ask("ls-files", "-z", "--", ":(attr:"+d.kind+"="+driver+")"), "\x00")
		}
	}
	return named
}
