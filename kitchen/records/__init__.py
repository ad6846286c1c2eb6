"""The process record of a load: read whole, signed by the operator, reviewed by a lead, taken out as CSV and PDF."""
