package suspects

import (
	"encoding/json"
	"strings"
)

// Schema is the JSON Schema (draft 2020-12) of an evidence file, made from the same table as the reader.
func Schema() map[string]any {
	root := object("Everything that was seen of one engine; every key is optional. Values carry their units, " +
		"and a ± where it is known.")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "Phasewright evidence"
	top := root["properties"].(map[string]any)
	inner := map[string]map[string]any{}
	for _, s := range sections() {
		o := object(s.doc)
		inner[s.key] = o
		if len(s.need) > 0 {
			o["required"] = s.need
		}
		top[s.key] = o
		if s.list {
			list := map[string]any{"type": "array", "items": o}
			if s.most > 0 {
				list["maxItems"] = s.most
			}
			top[s.key] = list
		}
	}
	for _, f := range fields() {
		at, key := top, f.Path
		if sec, k, ok := strings.Cut(f.Path, "."); ok {
			at, key = inner[sec]["properties"].(map[string]any), k
		}
		v := f.schema()
		v["description"] = f.Doc
		v["examples"] = []string{f.Example}
		at[key] = v
	}
	return root
}

// SchemaJSON is Schema as indented JSON with a final newline.
func SchemaJSON() []byte {
	out, err := json.MarshalIndent(Schema(), "", "  ")
	if err != nil {
		panic(err) // made of strings, numbers, maps and lists
	}
	return append(out, '\n')
}

func (f field) schema() map[string]any {
	switch f.kind {
	case word:
		return map[string]any{"enum": f.words}
	case words:
		return map[string]any{"type": "array", "items": map[string]any{"enum": f.words}}
	case text:
		return map[string]any{"type": "string"}
	case counts:
		return map[string]any{"type": "array", "uniqueItems": true,
			"items": map[string]any{"type": "integer", "minimum": f.low, "maximum": f.high}}
	}
	v := map[string]any{"type": "number", "minimum": f.low, "maximum": f.high}
	if f.kind == measure {
		v = map[string]any{"type": "string", "pattern": f.unit.pattern}
	}
	if len(f.words) > 0 {
		return map[string]any{"anyOf": []any{v, map[string]any{"enum": f.words}}}
	}
	return v
}

func object(doc string) map[string]any {
	return map[string]any{"type": "object", "description": doc, "additionalProperties": false,
		"properties": map[string]any{}}
}
