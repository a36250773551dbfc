package bench

import "testing"

// The first strike leaves the most laws open.
func BenchmarkAdviseStruck(b *testing.B) {
	j := jarJob(jar(240))
	entries := []Entry{{Heard: jar(0), Sigma: .1}}
	for b.Loop() {
		Advise(j, entries)
	}
}

func BenchmarkAdviseBlown(b *testing.B) {
	entries := series(4, 10, 16)
	for b.Loop() {
		Advise(publishedJob(), entries)
	}
}
