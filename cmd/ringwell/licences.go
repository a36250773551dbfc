package main

import (
	_ "embed"
	"io"
)

// licences are the licence texts of all that is in the program, collected by
// cmd/licences.
//
//go:generate go run ../licences -root ../.. -out licences.txt
//go:embed licences.txt
var licences string

type licencesCommand struct{}

func (licencesCommand) Run(std stdio) error {
	_, err := io.WriteString(std.out, licences)
	return err
}
