package suspects

import (
	"encoding/json"
	"strconv"
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
func SchemaJSON() []byte { return indented(Schema()) }

// PriorsSchemaJSON is the JSON Schema of what ReadPriors reads, in the same form.
func PriorsSchemaJSON() []byte {
	number := func(doc string, most float64) map[string]any {
		return map[string]any{"type": "number", "minimum": 0, "maximum": most, "description": doc}
	}
	weight := object("How common each fault is among single faults, relative to the others.")
	for k, name := range names() {
		weight["properties"].(map[string]any)[name] = number("Left out: "+
			strconv.FormatFloat(DefaultPriors().Weight[k], 'g', -1, 64)+".", mostWeight)
	}
	root := object("How common each fault is in this shop; what is left out stays as it is by our judgement.")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "Phasewright priors"
	root["properties"] = map[string]any{
		"nothing": number("Chance that nothing is wrong though somebody asks.", 1),
		"none":    number("Chance that it is none of our faults.", 1),
		"pair":    number("Chance of two faults at once, of what is left.", 1),
		"weight":  weight}
	return indented(root)
}

func indented(schema map[string]any) []byte {
	out, err := json.MarshalIndent(schema, "", "  ")
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
