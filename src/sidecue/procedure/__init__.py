"""The procedure language: model, loading, planning, interlocks. Knows no clock."""
