package gitdriver

import (
	"fmt"
	"os"
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
func (s Scope) Doctor() (findings []string, err error) {
	if s, err = s.top(); err != nil {
		return nil, err
	}
	named, err := s.named()
	if err != nil {
		return nil, err
	}
	installed := false
	for _, d := range drivers {
		// Attributes travel with a repository and configuration does not: a clone may be
		// told to use a driver that it lacks, and git says nothing of it.
		if v, _ := s.git("config", d.setting); v != "" {
			installed = true
		} else if file := named[d.kind]; file != "" {
			findings = append(findings, fmt.Sprintf("this clone lacks the %s driver %q that %s names: calsplice git install adds it", d.kind, driver, file))
		}
	}
	switch {
	case installed:
		if named["merge"] == "" {
			findings = append(findings, "no .gitattributes names files for the merge driver: calsplice git install does")
		}
		findings = slices.Concat(findings, s.program(), s.outdated(), s.hook())
	case len(named) == 0:
		findings = append(findings, "this clone lacks calsplice's drivers, and no .gitattributes names files for them: calsplice git install adds both")
	}
	tracked, err := s.git("ls-files", "-z")
	for _, standing := range s.standing(documents(tracked)) {
		findings = append(findings, standing.String())
	}
	return findings, err
}

// outdated names settings that an earlier version did not make.
func (s Scope) outdated() (findings []string) {
	for _, kv := range settings("") {
		if v, _ := s.git("config", kv[0]); !strings.HasSuffix(v, kv[1]) {
			findings = append(findings, fmt.Sprintf("git's setting %s is not %q: calsplice git install sets it", kv[0], strings.TrimSpace(kv[1])))
		}
	}
	return findings
}

// program checks that git would find the program that it is told to call.
func (s Scope) program() []string {
	line, err := s.git("config", "merge."+driver+".driver")
	if err != nil {
		return nil
	}
	name, _, _ := strings.Cut(line, " git merge-driver")
	// As command wrote it for a shell, so it is read back.
	name = strings.ReplaceAll(strings.Trim(name, "'"), `'\''`, "'")
	if _, err := exec.LookPath(filepath.FromSlash(name)); err != nil {
		return []string{fmt.Sprintf("git is configured to run %s, which does not exist; run calsplice git install", name)}
	}
	return nil
}

// named gives, for "diff" and "merge", the first of the clone's attributes files
// that names our driver for some files.
func (s Scope) named() (map[string]string, error) {
	out, err := s.git("ls-files", "-z", "--cached", "--others", "--exclude-standard", "--", ".gitattributes", "**/.gitattributes")
	if err != nil {
		return nil, err
	}
	files := strings.Split(strings.Trim(out, "\x00"), "\x00")
	if info, err := s.git("rev-parse", "--git-path", "info/attributes"); err == nil {
		files = append(files, info)
	}
	named := map[string]string{}
	for _, f := range files {
		path := filepath.FromSlash(f)
		if !filepath.IsAbs(path) {
			path = filepath.Join(s.Dir, path)
		}
		if info, err := os.Lstat(path); f == "" || err != nil || !info.Mode().IsRegular() {
			continue // git follows no link either
		}
		text, _ := os.ReadFile(path) // one that cannot be read names nothing to git
		for line := range strings.Lines(string(text)) {
			fields := strings.Fields(line)
			for _, d := range drivers {
				if slices.Contains(fields, d.kind+"="+driver) && !strings.HasPrefix(fields[0], "#") && named[d.kind] == "" {
					named[d.kind] = f
				}
			}
		}
	}
	return named, nil
}
