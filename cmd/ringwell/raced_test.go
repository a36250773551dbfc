//go:build race

package main

// raced: the race detector is on, under which hearing takes ten times as long.
// Tests that count how often the ear is right then only look whether it runs.
const raced = true
