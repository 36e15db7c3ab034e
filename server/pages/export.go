package pages

import (
	"html/template"

	"thatch/store"
	"thatch/web/words"
)

// Funcs are the functions of our templates, for the clients' pages too.
func Funcs(sp words.Speaker) template.FuncMap { return funcs(sp) }

// SpeakerOf is the salon's language, unit and zone.
func SpeakerOf(set store.Settings) words.Speaker { return speakerOf(set) }
