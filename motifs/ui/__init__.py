"""The page: Streamlit on top of the workflows. Presenters know nothing of Streamlit.

State lies in three places only: the catalogue (what is true), the address (which lot and sherd are open), and
`st.session_state` (what is typed and not yet told).
"""
