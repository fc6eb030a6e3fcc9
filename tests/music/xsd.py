"""The MusicXML 4.0 schema of W3C, as shipped in the test-only package `musicxml`, without the network.

The schema imports two others by address; both are answered with small stand-ins that define what it uses.
"""

import importlib.util
from functools import cache
from pathlib import Path

from lxml import etree

XLINK = b"""<?xml version="1.0"?>
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
<xs:attribute name="href" type="xs:anyURI"/>
<xs:attribute name="type"><xs:simpleType><xs:restriction base="xs:string">
<xs:enumeration value="simple"/></xs:restriction></xs:simpleType></xs:attribute>
<xs:attribute name="role" type="xs:string"/>
<xs:attribute name="title" type="xs:string"/>
<xs:attribute name="show"><xs:simpleType><xs:restriction base="xs:string"><xs:enumeration value="new"/>
<xs:enumeration value="replace"/><xs:enumeration value="embed"/><xs:enumeration value="other"/>
<xs:enumeration value="none"/></xs:restriction></xs:simpleType></xs:attribute>
<xs:attribute name="actuate"><xs:simpleType><xs:restriction base="xs:string">
<xs:enumeration value="onRequest"/><xs:enumeration value="onLoad"/><xs:enumeration value="other"/>
<xs:enumeration value="none"/></xs:restriction></xs:simpleType></xs:attribute>
</xs:schema>"""
XML_NAMESPACE = b"""<?xml version="1.0"?>
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/>
<xs:attribute name="space"><xs:simpleType><xs:restriction base="xs:NCName">
<xs:enumeration value="default"/><xs:enumeration value="preserve"/>
</xs:restriction></xs:simpleType></xs:attribute>
</xs:schema>"""


class StandIns(etree.Resolver):
    def resolve(self, url, pubid, context):
        if url.endswith("xlink.xsd"):
            return self.resolve_string(XLINK, context)
        if url.endswith("xml.xsd"):
            return self.resolve_string(XML_NAMESPACE, context)
        return None


@cache
def musicxml_schema() -> etree.XMLSchema:
    folder = importlib.util.find_spec("musicxml").submodule_search_locations[0]
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(StandIns())
    path = Path(folder) / "generate_classes" / "musicxml_4_0.xsd"
    return etree.XMLSchema(etree.parse(str(path), parser))


def faults(musicxml: str) -> list[str]:
    """What the schema says against this text; empty when it is valid."""
    schema = musicxml_schema()
    schema.validate(etree.fromstring(musicxml.encode()))
    return [f"{entry.line}: {entry.message}" for entry in schema.error_log]
