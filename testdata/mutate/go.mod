module calsplice/testdata/mutate

go 1.26
