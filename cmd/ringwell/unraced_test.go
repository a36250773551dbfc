//go:build !race

package main

// raced: see raced_test.go.
const raced = false
