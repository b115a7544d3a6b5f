//go:build !unix

package tablefile

import "io/fs"

func umask() fs.FileMode { return 0 }
