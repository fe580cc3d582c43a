package pricebook

import "encoding/json"

// MarshalJSON writes the edition as the JSON that DecodeJSON reads.
func (e Edition) MarshalJSON() ([]byte, error) {
	type fields Edition // without this method
	return json.Marshal(struct {
		Format string `json:"format"`
		fields
	}{Format, fields(e)})
}
