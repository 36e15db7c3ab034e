//go:build plantedbugs

package faultfs_test

import (
	"testing"

	"thatch/store"
)

func TestEachPlantedBugIsCaughtByACrash(t *testing.T) {
	for _, bug := range []string{"answer-first", "row-first", "in-place"} {
		t.Run(bug, func(t *testing.T) {
			defer store.Plant("")
			wrong, crashes := everyCrash(t, "", true, func(s *store.Store, ack func(string)) error {
				store.Plant(bug)
				defer store.Plant("")
				return uploads(s, ack)
			})
			if len(wrong) == 0 {
				t.Fatalf("not caught in %d crashes", crashes)
			}
			t.Log(wrong[0])
		})
	}
}
