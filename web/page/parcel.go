package page

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"

	"phasewright/drawing"
)

// parcels are the embedded styles and scripts by name. A page gets its style in one file and its script in one: on a
// slow line each file more may cost its delay again. What a view needs beside what every page needs has the view's
// name, as wave.js.
type parcels map[string]string

// shared are styles that two views have in common.
var shared = map[string]string{"captures": "recordings.css", "wave": "recordings.css", "new": "card.css"}

// ownStyle names the file that a view's style stands in beside look.css; "" for none.
func (p parcels) ownStyle(view string) string {
	name := cmp.Or(shared[view], view+".css")
	if _, ok := p[name]; ok && view != "sheet" { // sheet.css is the drawing-office sheet of every page
		return name
	}
	return ""
}

// styleOf names the one file of a view's style as it is served.
func (p parcels) styleOf(view string) string {
	if own := p.ownStyle(view); own != "" {
		return own
	}
	return "look.css"
}

// scriptOf names the one file of a view's script as it is served.
func (p parcels) scriptOf(view string) string {
	if _, ok := p[view+".js"]; ok {
		return view + ".js"
	}
	return "app.js"
}

// style is what a view looks by.
func (p parcels) style(view string) string {
	return comment.ReplaceAllString(p["tokens.css"]+p["sheet.css"]+drawing.CSS+p[p.ownStyle(view)], "")
}

var (
	comment  = regexp.MustCompile(`(?s)/\*.*?\*/`)
	imported = regexp.MustCompile(`(?m)^import \{ (\w+(?:, \w+)*) \} from "\./([\w-]+\.js)";$`)
	exported = regexp.MustCompile(`(?m)^export ((?:async )?function|const|class) (\w+)`)
	leftOver = regexp.MustCompile(`(?m)^(import|export)\b.*`)
	remark   = regexp.MustCompile(`(?ms)^\s*(?://[^\n]*|/\*\*.*?\*/)\n`)
)

// bare takes the lines that are remarks off a script.
func bare(script string) string { return remark.ReplaceAllString(script, "") }

// script is what a view runs: app.js and its own, with all that they import, each module a block of its own in which
// its names stay.
func (p parcels) script(view string) (string, error) {
	var out strings.Builder
	out.WriteString("const module = {};\n")
	const begun, done = 1, 2
	state := map[string]int{}
	var add func(name string) error
	add = func(name string) error {
		text, ok := p[name]
		switch {
		case !ok:
			return fmt.Errorf("script %s is imported and not there", name)
		case state[name] == begun:
			return fmt.Errorf("script %s imports itself", name)
		case state[name] == done:
			return nil
		}
		state[name] = begun
		for _, m := range imported.FindAllStringSubmatch(text, -1) {
			if err := add(m[2]); err != nil {
				return err
			}
		}
		state[name] = done
		var gives []string
		for _, m := range exported.FindAllStringSubmatch(text, -1) {
			gives = append(gives, m[2])
		}
		text = imported.ReplaceAllString(text, `const { $1 } = module["$2"];`)
		text = exported.ReplaceAllString(text, "$1 $2")
		if bad := leftOver.FindString(text); bad != "" {
			return fmt.Errorf("script %s: %q is not put together with the others – "+
				"write import { a } from \"./b.js\"; or export function, const or class", name, bad)
		}
		fmt.Fprintf(&out, "{\n%smodule[%q] = { %s };\n}\n", bare(text), name, strings.Join(gives, ", "))
		return nil
	}
	if err := add("app.js"); err != nil {
		return "", err
	}
	if own := p.scriptOf(view); own != "app.js" {
		if err := add(own); err != nil {
			return "", err
		}
	}
	return out.String(), nil
}
