package phantom

import "testing"

// One core: go test -run ^$ -bench . -cpu 1 ./imaging/phantom
func BenchmarkRender(b *testing.B) {
	d := Dog{Seed: 1}
	c := Frame(d, 2016, 1512)
	for b.Loop() {
		Render(d, Overgrown(45), Pose{}, c, Scene{})
	}
}

func BenchmarkTruthOf(b *testing.B) {
	d := Dog{Seed: 1}
	c := Frame(d, 2016, 1512)
	for b.Loop() {
		TruthOf(d, Overgrown(45), Pose{}, c)
	}
}
