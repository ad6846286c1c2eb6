"""The published processes, open to everybody and the same for everybody."""

from __future__ import annotations

from typing import Any

from django.utils.cache import patch_cache_control
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kitchen.api.base.fields import Given
from kitchen.api.base.problems import InvalidQuery
from kitchen.api.bridge import CAUTION, published_processes
from kitchen.batches.bridge import food_choices
from kitchen.batches.models import Jar, Pack
from kitchen.equipment.models import CannerKind
from kitchen.members.models import MOST_ALTITUDE_FT

# Printed tables change with a release of this program, never between.
_FRESH_SECONDS = 3600


class ProcessAsked(Given):
    """A food by its id or printed name, how it is packed, and in which canner at which altitude."""

    food = serializers.CharField(max_length=120)
    pack = serializers.ChoiceField(choices=Pack.choices)
    jar = serializers.ChoiceField(choices=Jar.choices)
    gauge = serializers.ChoiceField(
        choices=CannerKind.choices, help_text="The kind of canner, told by its gauge."
    )
    altitude_ft = serializers.IntegerField(min_value=0, max_value=MOST_ALTITUDE_FT)


class ProcessShown(serializers.Serializer[Any]):
    """A printed line, to be taken whole. Inches, gauge pounds, minutes, feet."""

    key = serializers.CharField()
    food = serializers.CharField()
    food_name = serializers.CharField()
    pack = serializers.ChoiceField(choices=Pack.choices)
    jar = serializers.ChoiceField(choices=Jar.choices, help_text="As printed.")
    method = serializers.CharField()
    pressure_psi = serializers.IntegerField(allow_null=True)
    process_minutes = serializers.IntegerField()
    altitude_min_ft = serializers.IntegerField()
    altitude_max_ft = serializers.IntegerField(allow_null=True)
    headspace_in = serializers.FloatField()
    sterilise_jars = serializers.BooleanField()
    acid = serializers.ListField(child=serializers.CharField(), help_text="Any one of them, for one jar.")
    low_acid = serializers.BooleanField()
    words = serializers.CharField()
    publication = serializers.CharField(source="source")
    confidence = serializers.CharField()


class Found(serializers.Serializer[Any]):
    """What is published, with the caution that belongs to it (rule S17)."""

    processes = ProcessShown(many=True)
    caution = serializers.CharField()


class FoodShown(serializers.Serializer[Any]):
    """A food and its printed name."""

    id = serializers.CharField()
    name = serializers.CharField()


class _Public(APIView):
    """Answers anybody alike, so any cache may keep it."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    def told(self, data: object) -> Response:
        """The answer, to be kept for a while."""
        response = Response(data)
        patch_cache_control(response, public=True, max_age=_FRESH_SECONDS)
        return response


class Processes(_Public):
    """The look-up."""

    @extend_schema(parameters=[ProcessAsked], responses=Found, operation_id="processes_find")
    def get(self, request: Request) -> Response:
        """The published processes for a food, pack, jar, canner and altitude; refused where nothing is published."""
        read = ProcessAsked(data=request.query_params.dict())
        if not read.is_valid():
            raise InvalidQuery(read.errors)
        given = read.validated_data
        found = published_processes(
            food=given["food"],
            pack=given["pack"],
            jar=given["jar"],
            kind=given["gauge"],
            altitude_ft=given["altitude_ft"],
        )
        return self.told({"processes": ProcessShown(found, many=True).data, "caution": CAUTION})


class Foods(_Public):
    """The foods of the tables."""

    @extend_schema(responses=FoodShown(many=True), operation_id="foods_list")
    def get(self, request: Request) -> Response:
        """Every food for which something is published, by name."""
        return self.told([{"id": one, "name": name} for one, name in food_choices()])
