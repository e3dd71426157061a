"""Names of claims, messages and roles of LTI 1.3 Core and Deep Linking 2.0.

Names, media types and numbers of sections were compared with several open libraries that are built
to the specifications and name them (`Ltix` and OAT's `lib-lti1p3-core` among them).
"""

from __future__ import annotations

from typing import Final

#: LTI 1.3 Core, 5.3 and 5.4: claims of every message.
CLAIM: Final = "https://purl.imsglobal.org/spec/lti/claim/"
MESSAGE_TYPE: Final = CLAIM + "message_type"
VERSION: Final = CLAIM + "version"
DEPLOYMENT: Final = CLAIM + "deployment_id"
TARGET: Final = CLAIM + "target_link_uri"
RESOURCE_LINK: Final = CLAIM + "resource_link"
ROLES: Final = CLAIM + "roles"
CONTEXT: Final = CLAIM + "context"
PRESENTATION: Final = CLAIM + "launch_presentation"
#: Deep Linking 2.0, 4.4 and 4.5.
_DEEP: Final = "https://purl.imsglobal.org/spec/lti-dl/claim/"
DEEP_LINKING: Final = _DEEP + "deep_linking_settings"
DEEP_LINKING_DATA: Final = _DEEP + "data"
CONTENT_ITEMS: Final = _DEEP + "content_items"
DEEP_LINKING_REQUEST: Final = "LtiDeepLinkingRequest"
#: AGS 2.0, 3.1, and NRPS 2.0, 3.6.1.1: where the services of a course are.
GRADES: Final = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
MEMBERS: Final = "https://purl.imsglobal.org/spec/lti-nrps/claim/namesroleservice"
RESOURCE_LINK_REQUEST: Final = "LtiResourceLinkRequest"
LTI_VERSION: Final = "1.3.0"

#: LTI 1.3 Core, A.2.3: roles within the course. Roles in the institution (A.2.2) or in the
#: system (A.2.1) say nothing about this course.
MEMBERSHIP: Final = "http://purl.imsglobal.org/vocab/lis/v2/membership"
TEACHES: Final = frozenset({f"{MEMBERSHIP}#Instructor"})
LEARNS: Final = frozenset({f"{MEMBERSHIP}#Learner"})
