"""Where is a job filled? Its page, what it asks for, and the sheet at the end.

``job_page`` lays it out, ``job_parts`` holds a part each, ``job_desk`` does what they ask for.
"""
