package jobcard

import (
	"encoding/json"
	"strings"
)

// Schema is the JSON Schema (draft 2020-12) of a job card, made from the same table as the parser.
func Schema() map[string]any {
	root := object("Everything known of one engine, its distributor, signals, controller, coil and damper. " +
		"Values carry their units.")
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "Phasewright job card"
	for _, f := range Fields() {
		parts := strings.Split(f.Path, ".")
		at := root
		for _, section := range parts[:len(parts)-1] {
			properties := at["properties"].(map[string]any)
			next, ok := properties[section].(map[string]any)
			if !ok {
				next = object("")
				delete(next, "description")
				properties[section] = next
			}
			if f.Demand != "" && !strings.HasPrefix(f.Path, "coil.") {
				require(at, section)
			}
			at = next
		}
		field := f.schema()
		field["description"] = f.Doc
		if f.Default != "" {
			field["default"] = f.Default
		}
		key := parts[len(parts)-1]
		at["properties"].(map[string]any)[key] = field
		if f.Demand != "" {
			require(at, key)
		}
	}
	return root
}

// SchemaJSON is Schema as indented JSON with a final newline.
func SchemaJSON() []byte {
	out, err := json.MarshalIndent(Schema(), "", "  ")
	if err != nil {
		panic(err) // the schema is made of strings, numbers, maps and lists
	}
	return append(out, '\n')
}

func object(doc string) map[string]any {
	return map[string]any{"type": "object", "description": doc, "additionalProperties": false,
		"properties": map[string]any{}}
}

func require(o map[string]any, key string) {
	list, _ := o["required"].([]any)
	for _, k := range list {
		if k == key {
			return
		}
	}
	o["required"] = append(list, key)
}
