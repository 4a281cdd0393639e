"""Pictures of the screens, made by `python3 -m app.windows.screenshots FOLDER`.

Every picture shows a simulated bench in stepped time with the numbers that it really gave; nothing on it is
drawn for the picture.
"""
