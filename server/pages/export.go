package pages

import (
	"thatch/store"
	"thatch/web/words"
)

// SpeakerOf is the salon's language, unit and zone.
func SpeakerOf(set store.Settings) words.Speaker { return speakerOf(set) }
