"""A folder of text sheets, designs and readings; the only room that touches disk.

Floor 5; may import the types of floors 2 to 4.
"""
