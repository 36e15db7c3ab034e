// Package plan plans back from shows: for each zone and session what to take or leave so that the zone is inside its
// target on the day, with the reasons, and what is not possible and when it would be.
//
// A zone's choices over all sessions form a tree (rules.go says what each branch is, layers.go keeps the coat); it is seen
// whole where it fits and followed by a beam where it does not (sequence.go, beam.go). One sequence a zone is then chosen
// under the minutes of the sessions (choose.go, knapsack.go). Plan.Gap says how far from the best the result can be.
//
// It owns no growth: every readiness is asked of the coat model. It refuses clocks, files and words.
package plan
