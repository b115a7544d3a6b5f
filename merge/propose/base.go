package propose

import "calsplice/merge/caution"

func standing() []string { return caution.Standing }
