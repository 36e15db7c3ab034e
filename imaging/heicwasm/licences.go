package heicwasm

import (
	"embed"
	"strings"
)

//go:embed v0.4.5/LICENSE* v0.4.5/README.md LICENSE.wazero NOTICE.wazero
var texts embed.FS

// Licences is everything that has to be handed on with the decoder: what it is, where its source is, how to replace it,
// and the licences of its parts.
func Licences() string {
	var out strings.Builder
	for _, name := range []string{"v0.4.5/README.md", "v0.4.5/LICENSE.libheif", "v0.4.5/LICENSE.libde265", "v0.4.5/LICENSE", "NOTICE.wazero", "LICENSE.wazero"} {
		b, err := texts.ReadFile(name)
		if err != nil {
			panic(err) // they are embedded above
		}
		out.WriteString("==== " + name + "\n\n" + strings.TrimSpace(string(b)) + "\n\n")
	}
	return out.String()
}
