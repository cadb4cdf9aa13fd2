"""What people read of numbers, materials and steps, on pages as on paper.

``numbers`` has figures, decimals and units; ``material_facts`` what a sentence, a caution or a
label needs to know of a material; ``sentences`` the imperative of a step, ``cautions`` what can go
wrong with it. A step kind without its own sentence or caution gets one from its fields and
materials.
"""
