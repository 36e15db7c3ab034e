// Package plan plans back from shows: for each zone and session what to take or leave so that the zone is inside its
// target on the day, with the reasons, and what is not possible and when it would be.
package plan
