"""What lies between a `Source` and an edit of the farm: the plan of columns, the values, the places, the rows.

`farmmap.files.bring` puts the parts together.
"""
