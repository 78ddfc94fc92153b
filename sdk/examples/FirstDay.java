import java.io.IOException;
import java.net.URI;
import java.net.http.HttpClient;
import java.net.http.HttpRequest;
import java.net.http.HttpResponse;
import java.time.Duration;

/**
 * First day with the service, from Java (17 or newer, nothing to install): five questions of a water treatment job.
 *
 * <p>{@code dosewright serve &}, then {@code java sdk/examples/FirstDay.java [address]}. The house is invented. Java has
 * no JSON reader, so this takes single values out of the answers by {@code pick}; a program would use its
 * JSON library, or a client generated from {@code /openapi.json}.
 */
public class FirstDay {
  // One client for the whole program: it pools connections.
  private static final HttpClient CLIENT = HttpClient.newBuilder().connectTimeout(Duration.ofSeconds(5)).build();
  private static String address = "http://127.0.0.1:8254";

  public static void main(String[] arguments) throws IOException, InterruptedException {
    if (arguments.length > 0) {
      address = arguments[0];
    }
    String chamber = """
        "chamber_bore": "90 mm", "sleeve_outer_diameter": "26 mm", "sleeve_wall": "1.5 mm", "arc_length": "790 mm",
        "chamber_length": "840 mm", "sleeve_transmittance": "90 %", "lamp_ageing_factor": "80 %",
        "sleeve_fouling_factor": "88 %", "target_dose": "40 mJ/cm2", "uvt": "87 %\"""";
    show("uv/dose", "{" + chamber + """
        , "uvc_output": "24 W", "flow": "8 gal/min", "water_temperature": "8 degC", "hydraulics": "plug_flow"}
        """, "mean_dose");
    show("uv/derated-flow", "{" + chamber + """
        , "rated_points": [{"rated_flow": "52 L/min", "uvt": "95 %", "dose": "40 mJ/cm2",
        "lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "100 %"}], "peak_flow": "8 gal/min", "units": "us"}
        """, "derated_flow");
    show("chlorine/shock", """
        {"vessels": [{"kind": "drilled_casing", "diameter": "6 in", "well_depth": "165 ft", "water_level": "38 ft"},
        {"kind": "pressure_tank", "volume": "32 gal", "fill": "45 %"},
        {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "70 ft"}],
        "product": {"kind": "liquid", "sodium_hypochlorite": "6 %"}, "free_chlorine": "100 mg/L",
        "chlorine_demand": "1.5 mg/L", "ph": 7.3, "water_temperature": "8 degC", "units": "us"}
        """, "product_volume", "hold_time");
    show("pipe/velocity", """
        {"flow": "8 gal/min", "material": "copper_type_l", "nominal_size": "3/4", "units": "us"}
        """, "velocity");
    show("pipe/pressure-drop", """
        {"flow": "8 gal/min", "inlet_pressure": "45 psi", "units": "us", "segments": [
        {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "34 ft"},
        {"kind": "fitting", "fitting": "elbow_90", "count": 7},
        {"kind": "device", "rated_points": [{"rated_flow": "10 gal/min", "pressure_drop": "3 psi"}]},
        {"kind": "elevation", "elevation_change": "7 ft"}]}
        """, "outlet_pressure");

    // An invalid request: 422, and for each fault its field, what is allowed and how to fix it.
    HttpResponse<String> refusal = send("pipe/velocity", "{\"flow\": \"8 gal\", \"bore\": \"20 mm\"}");
    System.out.println("invalid: " + refusal.statusCode() + " " + refusal.body());
  }

  private static void show(String calculation, String question, String... fields)
      throws IOException, InterruptedException {
    for (String field : fields) {
      double value = Double.parseDouble(pick(calculation, question, field));
      System.out.println(
          calculation + " " + field + " = " + value + " " + pick(calculation, question, "units." + field));
    }
    // Show these to whoever does the work: warnings and dangers.
    System.out.println("! " + pick(calculation, question, "warnings"));
    System.out.println("* " + pick(calculation, question, "cautions"));
  }

  private static String pick(String calculation, String question, String name)
      throws IOException, InterruptedException {
    HttpResponse<String> reply = send(calculation + "?pick=" + name, question);
    if (reply.statusCode() != 200) {
      // The request id finds the request in the service's logs.
      String id = reply.headers().firstValue("x-request-id").orElse("none");
      throw new IOException(reply.statusCode() + " " + reply.body() + " (request id " + id + ")");
    }
    return reply.body();
  }

  private static HttpResponse<String> send(String target, String question) throws IOException, InterruptedException {
    HttpRequest request = HttpRequest.newBuilder(URI.create(address + "/v1/" + target))
        .timeout(Duration.ofSeconds(30))
        .header("content-type", "application/json")
        .POST(HttpRequest.BodyPublishers.ofString(question))
        .build();
    return CLIENT.send(request, HttpResponse.BodyHandlers.ofString());
  }
}
