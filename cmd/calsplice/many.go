package main

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// manyValue collects a flag that may be given several times. The command
// library's own list would cut its values at commas.
type manyValue struct{ list []string }

func (m *manyValue) Set(s string) error { m.list = append(m.list, s); return nil }
func (m *manyValue) String() string     { return strings.Join(m.list, " ") }

// manyFlag is a flag that may be given several times; read it with [many].
func manyFlag(name, usage string) cli.Flag {
	return &cli.GenericFlag{Name: name, Usage: usage, Value: &manyValue{}}
}

func many(c *cli.Context, name string) []string {
	if m, ok := c.Generic(name).(*manyValue); ok && m != nil {
		return m.list
	}
	return nil
}
